"""Rules on borders: straight, square, inside the live area, clear of the trim, bleed deep."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

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
    """Panels that reach out of the live area, and borders so near the trim that it cuts them.

    One finding for each edge of the page, however many panels lie along it.
    """
    for word in _EDGE_AXIS:
        near, outside = _along(page, word, limits)
        if near:
            yield _touches_trim(page, word, near, limits)
        if outside:
            yield _outside_live(page, word, outside, limits)


_Reach = tuple[PanelSide, float, float]


def _along(page: CheckedPage, word: str, limits: CheckLimits) -> tuple[list[_Reach], list[_Reach]]:
    """Sides along one edge that are near the trim, and those outside the live area."""
    trim: Box = (0.0, 0.0, *page.page_format.trim_mm)
    near, outside = [], []
    for i, panel in enumerate(page.panels):
        side = _outermost(page, i).get(word)
        if side is None or word in panel.bleed_edges:
            continue
        to_trim = page.printed(_inside(side, word, trim))
        over = -page.printed(_inside(side, word, page.page_format.live_box_mm))
        if to_trim < limits.trim_mm and over > 0.05:
            near.append((side, to_trim, over))
        elif over > limits.outside_mm:
            outside.append((side, to_trim, over))
    return near, outside


def _panels_named(reaches: list[_Reach]) -> str:
    numbers = [str(side.panel + 1) for side, _, _ in reaches]
    if len(numbers) == 1:
        return f"panel {numbers[0]}"
    return f"panels {', '.join(numbers[:-1])} and {numbers[-1]}"


def _touches_trim(
    page: CheckedPage, word: str, reaches: list[_Reach], limits: CheckLimits
) -> Finding:
    side, to_trim, _ = min(reaches, key=lambda r: r[1])
    lies = "lies" if len(reaches) == 1 else "lie as little as"
    plural = "" if len(reaches) == 1 else "s"
    return Finding(
        f"touches-trim-{word}", Weight.PRINT,
        f"The {word} border{plural} of {_panels_named(reaches)} {lies} {max(to_trim, 0):.1f} mm "
        "from the trim: the cut may run through.",
        "Pull it in to the live area, or let the panel bleed.",
        side.middle, tuple((s.start, s.end) for s, _, _ in reaches),
        tuple(s.panel for s, _, _ in reaches), to_trim, limits.trim_mm,
    )  # fmt: skip


def _outside_live(
    page: CheckedPage, word: str, reaches: list[_Reach], limits: CheckLimits
) -> Finding:
    side, _, over = max(reaches, key=lambda r: r[2])
    lies = "is" if len(reaches) == 1 else "are up to"
    plural = "" if len(reaches) == 1 else "s"
    return Finding(
        f"outside-live-area-{word}", Weight.LOOK,
        f"The {word} side{plural} of {_panels_named(reaches)} {lies} {over:.1f} mm outside the "
        "live area.",
        "Keep what must not be lost inside, or move the side in.",
        side.middle, tuple((s.start, s.end) for s, _, _ in reaches),
        tuple(s.panel for s, _, _ in reaches), over, limits.outside_mm,
    )  # fmt: skip


def _outermost(page: CheckedPage, panel: int) -> dict[str, PanelSide]:
    """The side of a panel that looks to each edge of the page and reaches farthest."""
    best: dict[str, PanelSide] = {}
    for alone in panel_sides([page.panels[panel].outline]):
        side = replace(alone, panel=panel)
        word = side_word(side)
        place, axis = _EDGE_AXIS[word]
        sign = -1 if place < 2 else 1
        if word not in best or sign * side.middle[axis] > sign * best[word].middle[axis]:
            best[word] = side
    return best


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
        for word, side in _outermost(page, i).items():
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
