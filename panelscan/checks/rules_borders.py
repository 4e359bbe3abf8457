"""Rules on borders: straight, square, inside the live area, clear of the trim, bleed deep."""

from __future__ import annotations

from collections.abc import Iterator

from panelscan.checks.findings import CheckLimits, Finding, Weight
from panelscan.checks.page import CheckedPage
from panelscan.checks.rules_gutters import MANY_CORNERS, off_square, side_word
from panelscan.layout.sides import PanelSide, panel_sides
from panelscan.model.formats import Box

_EDGE_AXIS = {"left": (0, 0), "top": (1, 1), "right": (2, 0), "bottom": (3, 1)}


def crooked_borders(page: CheckedPage, limits: CheckLimits) -> Iterator[Finding]:
    """Sides a little off level or upright, and borders that waver."""
    for side in panel_sides(page.outlines):
        panel = page.panels[side.panel]
        word = side_word(side)
        if len(panel.outline.points) > MANY_CORNERS or word in panel.bleed_edges:
            continue
        off = off_square(page, side, limits)
        if off is not None:
            yield Finding(
                "not-square", Weight.LOOK,
                f"The {word} side of panel {side.panel + 1} is {abs(side.tilt_deg):.1f}° off "
                f"square: {off:.1f} mm between its ends.",
                "Rule it square, or slant it enough to look meant.",
                side.middle, ((side.start, side.end),), (side.panel,), off, limits.tilt_mm,
            )  # fmt: skip
        if side.index < len(panel.wobble_mm):
            wobble = panel.wobble_mm[side.index]
            if wobble is not None and page.printed(wobble) > limits.wobble_mm:
                yield Finding(
                    "wavering-border", Weight.LOOK,
                    f"The {word} border of panel {side.panel + 1} wavers by "
                    f"{page.printed(wobble):.2f} mm.",
                    "Rule it again on the border layer, unless the hand-drawn line is meant.",
                    side.middle, ((side.start, side.end),), (side.panel,),
                    page.printed(wobble), limits.wobble_mm,
                )  # fmt: skip


def live_area(page: CheckedPage, limits: CheckLimits) -> Iterator[Finding]:
    """Panels that reach out of the live area, and borders so near the trim that it cuts them."""
    live = page.page_format.live_box_mm
    trim: Box = (0.0, 0.0, *page.page_format.trim_mm)
    for i, panel in enumerate(page.panels):
        for side in _outermost(page, i):
            word = side_word(side)
            if word in panel.bleed_edges:
                continue
            to_trim = page.printed(_inside(side, word, trim))
            over = -page.printed(_inside(side, word, live))
            marks = ((side.start, side.end),)
            if to_trim < limits.trim_mm and over > 0.05:
                yield Finding(
                    "touches-trim", Weight.PRINT,
                    f"The {word} border of panel {i + 1} lies {max(to_trim, 0):.1f} mm from the "
                    "trim: the cut may run through it.",
                    "Pull it in to the live area, or let the panel bleed.",
                    side.middle, marks, (i,), to_trim, limits.trim_mm,
                )  # fmt: skip
            elif over > limits.outside_mm:
                yield Finding(
                    "outside-live-area", Weight.LOOK,
                    f"The {word} side of panel {i + 1} is {over:.1f} mm outside the live area.",
                    "Keep what must not be lost inside, or move the side in.",
                    side.middle, marks, (i,), over, limits.outside_mm,
                )  # fmt: skip


def _outermost(page: CheckedPage, panel: int) -> list[PanelSide]:
    """The side of a panel that looks to each edge of the page and reaches farthest."""
    best: dict[str, PanelSide] = {}
    for side in panel_sides([page.panels[panel].outline]):
        word = side_word(side)
        place, axis = _EDGE_AXIS[word]
        sign = -1 if place < 2 else 1
        if word not in best or sign * side.middle[axis] > sign * best[word].middle[axis]:
            best[word] = side
    return list(best.values())


def _inside(side: PanelSide, word: str, box: Box) -> float:
    """How far the side's middle lies inside the box's edge; negative outside."""
    place, axis = _EDGE_AXIS[word]
    distance = side.middle[axis] - box[place]
    return distance if place < 2 else -distance


def bleed_depth(page: CheckedPage, limits: CheckLimits) -> Iterator[Finding]:
    """Bleeding panels whose art does not run to the bleed line."""
    if page.page_format.bleed_mm <= 0 or not any(p.bleeds for p in page.panels):
        return
    if _shows_only_trim(page):
        panels = tuple(i for i, p in enumerate(page.panels) if p.bleeds)
        need = page.printed(page.page_format.bleed_mm)
        yield Finding(
            "bleed-not-shown", Weight.PRINT,
            f"Panels bleed, but the picture ends at the trim: {need:.1f} mm of art are missing "
            "all round, or were cropped.",
            "Draw past the trim to the bleed line, or check the uncropped file.",
            None, (), panels, 0.0, need,
        )  # fmt: skip
        return
    for i, panel in enumerate(page.panels):
        for side in _outermost(page, i):
            word = side_word(side)
            if word not in panel.bleed_edges:
                continue
            short = page.printed(_inside(side, word, page.page_format.bleed_box_mm))
            if short > limits.bleed_mm:
                need = page.printed(page.page_format.bleed_mm)
                yield Finding(
                    "bleed-too-shallow", Weight.PRINT,
                    f"Panel {i + 1} bleeds off the {word}, but its art ends {short:.1f} mm short "
                    f"of the bleed line ({need:.1f} mm past the trim).",
                    "Draw on to the bleed line.",
                    side.middle, ((side.start, side.end),), (i,), need - short, need,
                )  # fmt: skip


def _shows_only_trim(page: CheckedPage) -> bool:
    x0, y0, x1, y1 = page.shown
    w, h = page.page_format.trim_mm
    return x0 > -0.2 and y0 > -0.2 and x1 < w + 0.2 and y1 < h + 0.2


def lettering_inside(page: CheckedPage, limits: CheckLimits) -> Iterator[Finding]:
    """Balloons and captions that reach out of the box lettering must stay in, or over a fold."""
    safe = page.page_format.safe_box_mm
    fold = page.page_format.fold_x_mm
    for n, balloon in enumerate(page.balloons):
        x0, y0, x1, y1 = balloon.bounds
        out = page.printed(max(safe[0] - x0, safe[1] - y0, x1 - safe[2], y1 - safe[3]))
        ring = ((*balloon.points, balloon.points[0]),)
        if out > limits.outside_mm:
            yield Finding(
                f"lettering-outside-{n + 1}", Weight.PRINT,
                f"Lettering reaches {out:.1f} mm out of the live area.",
                "Move it in: what lies near the trim may be cut.",
                balloon.centroid, ring, (), out, limits.outside_mm,
            )  # fmt: skip
        if fold is not None and x0 - page.here(6.0) < fold < x1 + page.here(6.0):
            yield Finding(
                f"lettering-on-fold-{n + 1}", Weight.PRINT,
                "Lettering lies on the fold, or within 6 mm of it.",
                "Move it to one page: the binding swallows what lies there.",
                balloon.centroid, ring, (), 0.0, 6.0,
            )  # fmt: skip
