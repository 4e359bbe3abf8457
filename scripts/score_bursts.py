"""Score what was found of art that sticks out over borders against a drawn page's truth.

The truth holds figures that burst out. Balloons over a border may be found or not: they are
left out of both sides. Sound effects over a border are in no truth, so finding one counts as
false: the figures are somewhat too low.
"""

from __future__ import annotations

from collections.abc import Iterable

import shapely

from panelscan.demo.truth import PageTruth
from panelscan.layout.agreement import iou_table, match_panels
from panelscan.model.outline import Outline
from panelscan.model.panel import Panel

SAME_PANEL = 0.5
"""Overlap (IoU) from which a panel found is taken for a true one here."""
RIM_PX = 3.0
"""Ink of a balloon's outline around its true shape."""
LEAST_PX = 1.0
"""Slivers of less area are no burst."""


def burst_areas(truth: PageTruth, panels: list[Panel]) -> tuple[float, float, float]:
    """Areas of bursts found rightly, found wrongly and missed, in squared pixels.

    Zeros on a page without a true burst.
    """
    if not any(p.burst for p in truth.panels):
        return 0.0, 0.0, 0.0
    either = _lettered(truth)
    true = shapely.union_all(visible_bursts(truth)).difference(either)
    found = _union(b for p in panels for b in p.burst).difference(either)
    common = float(true.intersection(found).area)
    return common, float(found.area) - common, float(true.area) - common


def false_bursts(truth: PageTruth, panels: list[Panel]) -> tuple[float, float]:
    """Area of the panels without a true burst that got one, and of all those without."""
    either = _lettered(truth)
    table = iou_table([p.outline for p in truth.panels], [p.outline for p in panels])
    names = {m.found: m.true for m in match_panels(table, SAME_PANEL)}
    wrong = without = 0.0
    for k, panel in enumerate(panels):
        if k in names and truth.panels[names[k]].burst:
            continue
        without += panel.outline.area
        if _union(panel.burst).difference(either).area > LEAST_PX:
            wrong += panel.outline.area
    return wrong, without


def visible_bursts(truth: PageTruth) -> list[shapely.Geometry]:
    """What can be seen of each panel's bursts: panels drawn later hide what lies below them."""
    image = shapely.box(0, 0, truth.width_px, truth.height_px)
    order = [(p.depth, k) for k, p in enumerate(truth.panels)]
    seen = []
    for k, panel in enumerate(truth.panels):
        later = [p.outline for j, p in enumerate(truth.panels) if order[j] > order[k]]
        seen.append(_union(panel.burst).difference(_union(later)).intersection(image))
    return seen


def _lettered(truth: PageTruth) -> shapely.Geometry:
    return shapely.union_all([b.shape.buffer(RIM_PX) for b in truth.balloons])


def _union(outlines: Iterable[Outline]) -> shapely.Geometry:
    return shapely.union_all([o.shape for o in outlines])
