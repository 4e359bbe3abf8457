"""Rules on gutters and alignment: uneven, tapering, too thin; sides almost in line."""

from __future__ import annotations

import math
from collections.abc import Iterator
from statistics import median_low

from panelscan.checks.findings import CheckLimits, Finding, Weight
from panelscan.checks.page import CheckedPage
from panelscan.layout.sides import Facing, PanelSide, facing_sides, lines_of_sides, panel_sides
from panelscan.model.grid import GutterKind
from panelscan.model.outline import Point

WIDEST_SHARE = 0.12
MANY_CORNERS = 12
_SHARED_MM = 0.25
_WORDS = {GutterKind.TIER: "tier gutter", GutterKind.COLUMN: "column gutter"}


def gutters_on(page: CheckedPage) -> list[tuple[Facing, PanelSide, PanelSide]]:
    """Gutters of the page in mm, with the two sides of each; round panels left out."""
    sides = panel_sides(page.outlines)
    widest = WIDEST_SHARE * page.page_format.trim_mm[1]
    plain = {i for i, o in enumerate(page.outlines) if len(o.points) <= MANY_CORNERS}
    return [
        (f, sides[f.first], sides[f.second])
        for f in facing_sides(page.outlines, widest, sides)
        if {sides[f.first].panel, sides[f.second].panel} <= plain
    ]


def usual_gutters(page: CheckedPage) -> dict[GutterKind, float]:
    """Median width (the lower of two middle ones) of each kind, in mm, shared lines left out."""
    found: dict[GutterKind, list[float]] = {kind: [] for kind in GutterKind}
    for f, a, _ in gutters_on(page):
        if f.gap > page.here(_SHARED_MM):
            found[a.kind].append(f.gap)
    return {kind: median_low(values) for kind, values in found.items() if values}


def uneven_gutters(page: CheckedPage, limits: CheckLimits) -> Iterator[Finding]:
    """Gutters that differ by a little from the usual, narrow along the way, or are thin."""
    usual = usual_gutters(page)
    for f, a, b in gutters_on(page):
        if f.gap <= page.here(_SHARED_MM):
            continue
        panels = (a.panel, b.panel)
        where = f"between panels {a.panel + 1} and {b.panel + 1}"
        marks = (_strip(f, a),)
        gap, common = page.printed(f.gap), page.printed(usual[a.kind])
        taper = page.printed(f.gap_max - f.gap_min)
        if gap < limits.thin_gutter_mm:
            yield Finding(
                "thin-gutter", Weight.PRINT,
                f"The gutter {where} is {gap:.1f} mm wide in print: it may close up.",
                f"Open it to at least {limits.thin_gutter_mm:g} mm, or let the panels share one "
                "line.",
                f.place, marks, panels, gap, limits.thin_gutter_mm,
            )  # fmt: skip
        elif limits.gutter_mm < abs(gap - common) < 0.6 * common:
            yield Finding(
                "uneven-gutter", Weight.LOOK,
                f"The {_WORDS[a.kind]} {where} is {gap:.1f} mm, the page's others are "
                f"{common:.1f} mm.",
                f"Set it to {page.here(common):.1f} mm on this page, or make the difference "
                "plainly meant.",
                f.place, marks, panels, gap, common,
            )  # fmt: skip
        elif taper > limits.taper_mm and min(abs(a.tilt_deg), abs(b.tilt_deg)) > limits.tilt_deg:
            narrow, wide = page.printed(f.gap_min), page.printed(f.gap_max)
            yield Finding(
                "tapering-gutter", Weight.LOOK,
                f"The gutter {where} goes from {narrow:.1f} to {wide:.1f} mm.",
                "Rule both of its sides parallel.",
                f.place, marks, panels, taper, limits.taper_mm,
            )  # fmt: skip


def _strip(f: Facing, a: PanelSide) -> tuple[Point, ...]:
    """A line along the middle of the gutter's common stretch."""
    tx, ty = -a.normal[1], a.normal[0]
    half = f.shared / 2
    x, y = f.place
    return (x - half * tx, y - half * ty), (x + half * tx, y + half * ty)


def near_misses(page: CheckedPage, limits: CheckLimits) -> Iterator[Finding]:
    """Sides that look as if they were meant to be in line, and are not quite."""
    sides = panel_sides(page.outlines)
    near, line = page.here(limits.near_mm), page.here(limits.line_mm)
    for group in lines_of_sides(sides, near):
        members = [sides[n] for n in group if _may_align(page, sides[n], limits)]
        if len(members) < 2 or _hosted(page, members):
            continue
        lead = max(members, key=lambda s: s.length)
        for side in members:
            x, y = side.middle
            off = lead.normal[0] * x + lead.normal[1] * y - lead.offset
            if line < abs(off) <= near:
                shown = page.printed(abs(off))
                yield Finding(
                    "near-miss", Weight.LOOK,
                    f"The {side_word(side)} sides of panels {min(side.panel, lead.panel) + 1} "
                    f"and {max(side.panel, lead.panel) + 1} are {shown:.1f} mm out of line.",
                    "Put them in line, or set them clearly apart.",
                    side.middle, ((side.start, side.end), (lead.start, lead.end)),
                    (side.panel, lead.panel), shown, limits.line_mm,
                )  # fmt: skip


def off_square(page: CheckedPage, side: PanelSide, limits: CheckLimits) -> float | None:
    """Printed distance between a side's ends if it is off square by a little, else None."""
    off = page.printed(side.length * abs(math.sin(math.radians(side.tilt_deg))))
    return off if abs(side.tilt_deg) < limits.tilt_deg and off > limits.tilt_mm else None


def _may_align(page: CheckedPage, side: PanelSide, limits: CheckLimits) -> bool:
    """Whether a side may be compared with others: not round, not bleeding, not crooked."""
    panel = page.panels[side.panel]
    if len(panel.outline.points) > MANY_CORNERS:
        return False
    if off_square(page, side, limits) is not None:
        return False
    return side_word(side) not in panel.bleed_edges


def _hosted(page: CheckedPage, members: list[PanelSide]) -> bool:
    """Whether one of the panels is inset in another of them."""
    panels = {s.panel for s in members}
    return any(page.panels[p].host in panels for p in panels)


def side_word(side: PanelSide) -> str:
    """Where a side looks: left, top, right or bottom."""
    x, y = side.normal
    if abs(x) > abs(y):
        return "left" if x < 0 else "right"
    return "top" if y < 0 else "bottom"
