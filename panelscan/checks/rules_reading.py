"""Rules on reading: unclear order, too many words, too little resolution, pages too alike."""

from __future__ import annotations

from collections.abc import Iterator

from panelscan.checks.findings import CheckLimits, Finding, Weight
from panelscan.checks.page import CheckedPage
from panelscan.layout.distance import grid_distance
from panelscan.layout.lettering_room import words_area_mm2
from panelscan.layout.pages import lay_out_grid

_WHY = {
    "blockage": "a tall panel closes the end of a stack",
    "overlap": "the panels overlap",
    "separation": "a wide gutter pulls them apart",
    "stagger": "the gutters of neighbors do not meet",
    "inset": "one is set into the other",
}


def unclear_order(page: CheckedPage, limits: CheckLimits) -> Iterator[Finding]:
    """Places where a good share of readers goes another way."""
    for parting in lay_out_grid(page.grid).partings:
        if parting.probability < limits.unclear_share:
            continue
        first, second = page.outlines[parting.first], page.outlines[parting.second]
        start = "At the start" if parting.panel is None else f"After panel {parting.panel + 1}"
        why = _WHY.get(parting.reason, parting.reason)
        share = round(parting.probability * 100)
        (ax, ay), (bx, by) = first.centroid, second.centroid
        yield Finding(
            "unclear-order", Weight.LOOK,
            f"{start}, about {share} in 100 readers may go to panel {parting.second + 1} before "
            f"panel {parting.first + 1}: {why}.",
            "Lead the eye with a balloon or a figure over the gutter, narrow the gutter they "
            "should cross, or break the tall side.",
            ((ax + bx) / 2, (ay + by) / 2), (((ax, ay), (bx, by)),),
            (parting.first, parting.second), float(share), limits.unclear_share * 100,
            "of 100 readers",
        )  # fmt: skip


def lettering_room(page: CheckedPage, limits: CheckLimits) -> Iterator[Finding]:
    """Words that leave a panel little room, or a page with more than is usual."""
    total = sum(page.words)
    if total > limits.page_words:
        yield Finding(
            "many-words", Weight.LOOK,
            f"The page carries {total} words; about {limits.page_words} is an old ceiling.",
            "Cut words, or give the scene another page.",
            None, (), (), float(total), float(limits.page_words), "words",
        )  # fmt: skip
    for i, (words, panel) in enumerate(zip(page.words, page.panels, strict=False)):
        share = words_area_mm2(words, page.page_format) / panel.outline.area
        if share > limits.balloon_room_share:
            most = int(words * limits.balloon_room_share / share)
            yield Finding(
                "little-lettering-room", Weight.LOOK,
                f"{words} words take about {share * 100:.0f} % of panel {i + 1}.",
                f"Keep to about {most} words there, enlarge the panel, or split the speech.",
                panel.outline.centroid, ((*panel.outline.points, panel.outline.points[0]),),
                (i,), share * 100, limits.balloon_room_share * 100, "% of the panel",
            )  # fmt: skip


def resolution(page: CheckedPage, limits: CheckLimits) -> Iterator[Finding]:
    """Pixels per inch at printed size."""
    if page.ppi is None:
        return
    least = page.page_format.least_ppi
    # A scanner or a rounded size may be a little off: 1 % is no finding.
    if page.ppi < 0.99 * least:
        yield Finding(
            "low-resolution", Weight.PRINT,
            f"The picture has {page.ppi:.0f} pixels per inch at printed size; printers ask for "
            f"at least {least:.0f}.",
            "Scan or export it again at a higher resolution.",
            None, (), (), page.ppi, least, "ppi",
        )  # fmt: skip
    elif page.ppi < 0.99 * limits.line_art_ppi and least >= 300:
        yield Finding(
            "line-art-resolution", Weight.NOTE,
            f"The picture has {page.ppi:.0f} pixels per inch at printed size; "
            f"{limits.line_art_ppi:.0f} are usual for black and white line art.",
            "Fine for gray and colour; for pure line art scan finer.",
            None, (), (), page.ppi, limits.line_art_ppi, "ppi",
        )  # fmt: skip


def sameness(page: CheckedPage, limits: CheckLimits) -> Iterator[Finding]:
    """A run of pages with one and the same grid."""
    run = 0
    for grid in reversed(page.around):
        if grid_distance(page.grid, grid).value > limits.same_grid:
            break
        run += 1
    if run:
        times = "as the page before" if run == 1 else f"as the {run} pages before"
        yield Finding(
            "same-grid", Weight.NOTE if run == 1 else Weight.LOOK,
            f"This page has the same grid {times}.",
            "Keep it if the beat is meant; else vary a tier.",
            None, (), (), float(run), 0.0, "pages",
        )  # fmt: skip
