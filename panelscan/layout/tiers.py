"""Tiers: panels that stand side by side, from the top of the page to its foot."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from panelscan.layout.sheet import Sheet
from panelscan.layout.slip import slips_along
from panelscan.model.grid import CutNode, Tier

MOST_SLIP = 0.35
"""Slip up to which panels that no clean cut parts still stand in tiers."""
MOST_IN_BANDS = 24
FULL_WIDTH = 0.9
"""Share of the panels' whole width from which a panel fills its tier."""


def tiers_of(sheet: Sheet, tree: CutNode, order: Sequence[int]) -> tuple[Tier, ...]:
    """Tiers of a page from the cuts behind its order.

    Parameters
    ----------
    sheet : Sheet
        The panels.
    tree : CutNode
        Cuts, with panels as indices of the sheet.
    order : sequence of int
        Reading order.

    Returns
    -------
    tuple of Tier
        From top to bottom (of facing pages: the first page's, then the other's); panels
        by their place in the order. A tall panel beside a stack and the stack are one tier.
        Insets belong to the tier of their host.
    """
    place = {panel: k for k, panel in enumerate(order)}
    tiers = []
    for members in _bands(sheet, tree):
        boxes = sheet.boxes[[i for i in members if sheet.hosts[i] is None] or list(members)]
        panels = tuple(sorted(place[i] for i in members))
        tiers.append(Tier(panels, float(boxes[:, 1].min()), float(boxes[:, 3].max())))
    return tuple(tiers)


def _bands(sheet: Sheet, tree: CutNode) -> list[tuple[int, ...]]:
    if not tree.panels:
        return []
    if tree.cut in ("rows", "pages"):
        return [band for child in tree.children for band in _bands(sheet, child)]
    if tree.cut == "insets" and len(tree.children) == 2 and _is_ground(sheet, tree):
        return [tree.children[0].panels, *_bands(sheet, tree.children[1])]
    if tree.cut == "group":
        return _loose_bands(sheet, tree)
    return [tree.panels]


def _is_ground(sheet: Sheet, tree: CutNode) -> bool:
    """Whether the host is a picture behind the page's other panels, not one among them."""
    host = tree.panels[0]
    return len(sheet.tops) == 1 and len(tree.panels) > 2 and sheet.tops[0] == host


def _loose_bands(sheet: Sheet, tree: CutNode) -> list[tuple[int, ...]]:
    """Bands of panels without a clean cut, where they still hold together as rows."""
    tops = [i for i in tree.panels if sheet.hosts[i] is None] or list(tree.panels)
    boxes = sheet.boxes
    ranked = sorted(tops, key=lambda i: (boxes[i, 1] + boxes[i, 3], boxes[i, 0]))
    if len(ranked) > MOST_IN_BANDS:
        return [tree.panels]
    tops_y, heights = boxes[:, 1].tolist(), (boxes[:, 3] - boxes[:, 1]).tolist()
    slips = slips_along(boxes, ranked)
    bands, start = [], 0
    for t in range(1, len(ranked)):
        above, below = ranked[start:t], ranked[t:]
        step = min(tops_y[i] for i in below) - median(tops_y[i] for i in above)
        tall = median(heights[i] for i in above)
        if step > 0.5 * tall and slips[start:t, t].max() <= MOST_SLIP:
            bands.append(above)
            start = t
    bands.append(ranked[start:])
    home = {i: k for k, band in enumerate(bands) for i in band}
    for i in tree.panels:
        if i not in home:
            host = sheet.hosts[i]
            home[i] = home.get(host, len(bands) - 1) if host is not None else len(bands) - 1
    return [tuple(i for i in tree.panels if home[i] == k) for k in range(len(bands))]


def tier_pattern(tiers: Sequence[Tier]) -> str:
    """Panels in each tier from the top.

    Examples
    --------
    >>> tier_pattern([Tier((0, 1), 0, 1), Tier((2,), 1, 2)])
    '2-1'
    """
    return "-".join(str(len(tier.panels)) for tier in tiers)
