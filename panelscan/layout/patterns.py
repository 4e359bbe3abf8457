"""Trade words that hold for a page."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from panelscan.layout.sheet import Sheet
from panelscan.layout.tiers import FULL_WIDTH
from panelscan.model.grid import CutNode, Parting, Tier
from panelscan.model.page import PageEdge

REGULAR_CV = 0.06
HALF_SPLASH = 0.45
TALL = 1.6
WORDS = (
    "splash", "half-splash", "regular grid", "tiers", "full-tier panel", "tall panel",
    "blockage", "stagger", "separation", "inset", "overlap", "slanted", "bleed", "spread",
)  # fmt: skip


def patterns_of(
    sheet: Sheet,
    tree: CutNode,
    tiers: Sequence[Tier],
    order: Sequence[int],
    partings: Sequence[Parting],
    bleeds: Sequence[frozenset[PageEdge]],
    slanted_share: float,
    spread: bool,
) -> tuple[str, ...]:
    """Trade words that hold for a page, in the order of `WORDS`.

    Parameters
    ----------
    sheet : Sheet
        Panels laid flat.
    tree : CutNode
        Cuts, with panels as indices of the sheet.
    tiers : sequence of Tier
        Tiers, with panels as places in the order.
    order : sequence of int
        Reading order.
    partings : sequence of Parting
        Where readers part.
    bleeds : sequence of frozenset of PageEdge
        Bleeds of each panel, by index of the sheet.
    slanted_share : float
        Share of panels with a slanted side.
    spread : bool
        These are facing pages kept as one.
    """
    if not len(sheet):
        return ()
    reasons = {p.reason for p in partings}
    tops = sheet.tops
    holds = {
        "splash": len(tops) == 1,
        "half-splash": len(tops) > 1 and _largest_share(sheet) >= HALF_SPLASH,
        "regular grid": is_regular(sheet, tiers, order),
        "tiers": len(tiers) > 1 and tree.cut == "rows" and not _has_stack(tree),
        "full-tier panel": any(full_tier_panels(sheet, tiers, order)) and len(tops) > 1,
        "tall panel": len(tops) > 1 and _has_tall(sheet),
        "blockage": "blockage" in reasons,
        "stagger": "stagger" in reasons,
        "separation": "separation" in reasons,
        "inset": len(tops) < len(sheet),
        "overlap": "overlap" in reasons,
        "slanted": slanted_share > 0,
        "bleed": any(bleeds),
        "spread": spread,
    }
    return tuple(word for word in WORDS if holds[word])


def full_tier_panels(sheet: Sheet, tiers: Sequence[Tier], order: Sequence[int]) -> list[bool]:
    """For each panel of the sheet, whether it is alone in a tier of full width."""
    result = [False] * len(sheet)
    boxes = sheet.boxes
    whole = boxes[:, 2].max() - boxes[:, 0].min() if len(boxes) else 0.0
    for tier in tiers:
        tops = [order[k] for k in tier.panels if sheet.hosts[order[k]] is None]
        if len(tops) == 1 and boxes[tops[0], 2] - boxes[tops[0], 0] >= FULL_WIDTH * whole:
            result[tops[0]] = True
    return result


def is_regular(sheet: Sheet, tiers: Sequence[Tier], order: Sequence[int]) -> bool:
    """At least two tiers of at least two panels each, all of one size and lined up."""
    counts = {len(tier.panels) for tier in tiers}
    if len(tiers) < 2 or len(counts) != 1 or counts.pop() < 2 or len(sheet.tops) < len(sheet):
        return False
    boxes = sheet.boxes
    sizes = boxes[:, 2:] - boxes[:, :2]
    if (sizes.std(axis=0) > REGULAR_CV * sizes.mean(axis=0)).any():
        return False
    starts = boxes[:, 0].tolist()
    lefts = np.array([sorted(starts[order[k]] for k in tier.panels) for tier in tiers])
    return bool((np.ptp(lefts, axis=0) <= REGULAR_CV * sizes[:, 0].mean()).all())


def _largest_share(sheet: Sheet) -> float:
    boxes = sheet.boxes
    live = (boxes[:, 2].max() - boxes[:, 0].min()) * (boxes[:, 3].max() - boxes[:, 1].min())
    return float(sheet.areas.max() / live)


def _has_stack(tree: CutNode) -> bool:
    if tree.cut == "columns":
        return any(child.cut in ("rows", "columns", "group") for child in tree.children)
    return any(_has_stack(child) for child in tree.children if child.cut != "insets")


def _has_tall(sheet: Sheet) -> bool:
    """Whether some panel, not an inset, is much higher than wide and a good part of the page."""
    low, high = sheet.boxes[:, :2], sheet.boxes[:, 2:]
    wide, tall = (high - low)[sheet.tops].T
    whole = high[:, 1].max() - low[:, 1].min()
    return bool(((tall >= TALL * wide) & (tall >= 0.4 * whole)).any())
