"""Pages of the artist's own that show a habit: the ones that stand out in each section."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from panelscan.model.page import PageEdge
from panelscan.study.habits import Habits
from panelscan.study.rhythm import before_turn
from panelscan.study.shelf import Shelf
from panelscan.study.sizes import slants

FEW = 3


@dataclass(frozen=True, slots=True)
class Example:
    """A page that shows something.

    Parameters
    ----------
    page_id : str
        The page.
    why : str
        What it shows, in a few words.
    marked : frozenset of int
        Numbers (from 1) of the panels that are meant.
    """

    page_id: str
    why: str
    marked: frozenset[int] = frozenset()


def examples_of(shelf: Shelf, habits: Habits) -> dict[str, tuple[Example, ...]]:
    """Examples by section of the report; a section without any is left out."""
    makers: dict[str, Callable[[Shelf], list[Example]]] = {
        "Pages": _of_pages,
        "Page turns": _of_turns,
        "Panels": _of_panels,
        "Size by place in the order": _of_places,
        "Gutters": _of_gutters,
        "Margins": _of_margins,
        "Bleeds": _of_bleeds,
        "Borders": _of_borders,
        "Lettering room": _of_lettering,
    }
    found = {name: tuple(make(shelf)) for name, make in makers.items()}
    found["Reading"] = tuple(Example(i, _clarity(shelf, i)) for i in habits.least_clear)
    return {name: pages for name, pages in found.items() if pages}


def _clarity(shelf: Shelf, page_id: str) -> str:
    row = shelf.pages.loc[shelf.pages["page_id"] == page_id].iloc[0]
    return f"clarity {100 * float(row['clarity']):.0f} %"


def _page(shelf: Shelf, name: str) -> np.ndarray:
    return shelf.numbers(name)[: len(shelf)]


def _top(
    shelf: Shelf,
    values: np.ndarray,
    words: str,
    few: int = FEW,
    least: bool = False,
    marked: np.ndarray | None = None,
) -> list[Example]:
    """Pages with the greatest (or least) values; ``words`` holds a place for the value.

    Parameters
    ----------
    values : ndarray, shape (P,)
        NaN where a page has none.
    marked : ndarray of int, shape (P,), or None
        Number of the panel that is meant, 0 for none.
    """
    ranked = np.where(np.isfinite(values), values if least else -values, np.inf)
    found = []
    for k in np.argsort(ranked, kind="stable")[:few].tolist():
        if np.isfinite(ranked[k]):
            panel = 0 if marked is None else int(marked[k])
            panels = frozenset({panel}) if panel else frozenset()
            found.append(
                Example(str(shelf.pages["page_id"].iloc[k]), words.format(values[k]), panels)
            )
    return found


def _greatest(shelf: Shelf, values: np.ndarray, least: bool = False) -> tuple[np.ndarray, ...]:
    """Greatest (least) value among each page's panels and the number of that panel."""
    rows = shelf.panel_rows
    kept = np.flatnonzero(np.isfinite(values) & (rows.sheet < len(shelf)))
    order = kept[np.lexsort(((-values if not least else values)[kept], rows.sheet[kept]))]
    page = rows.sheet[order]
    first = np.flatnonzero(np.diff(page, prepend=-1))
    best, number = np.full(len(shelf), np.nan), np.zeros(len(shelf), dtype=int)
    best[page[first]] = values[order[first]]
    number[page[first]] = rows.numbers("reading_order")[order[first]].astype(int)
    return best, number


def _of_pages(shelf: Shelf) -> list[Example]:
    counts = _page(shelf, "panel_count")
    splash = np.where(counts == 1, _page(shelf, "confidence"), np.nan)
    return _top(shelf, counts, "{:.0f} panels") + _top(shelf, splash, "a single panel")


def _of_turns(shelf: Shelf) -> list[Example]:
    rows = shelf.panel_rows
    at = before_turn(shelf)
    area = np.where(at, 100 * rows.numbers("area_share"), np.nan)
    size, number = _greatest(shelf, area)
    found = _top(shelf, size, "ends on {:.0f} % of the page", marked=number)
    return found + _top(shelf, size, "ends on {:.0f} %", least=True, marked=number)


def _of_panels(shelf: Shelf) -> list[Example]:
    rows = shelf.panel_rows
    several = np.where(_page(shelf, "panel_count") > 1, _page(shelf, "contrast"), np.nan)
    slant, number = _greatest(shelf, slants(shelf))
    sure = rows.confidence
    inset, insets = _greatest(shelf, np.where(rows.flags("is_inset"), sure, np.nan))
    round_, rounds = _greatest(shelf, np.where(rows.equals("shape", "round"), sure, np.nan))
    return (
        _top(shelf, several, "largest {:.1f} times the smallest")
        + _top(shelf, slant, "slanted by {:.0f} degrees", marked=number)
        + _top(shelf, inset, "an inset", 2, marked=insets)
        + _top(shelf, round_, "a round panel", 1, marked=rounds)
    )


def _of_places(shelf: Shelf) -> list[Example]:
    rows = shelf.panel_rows
    order, area = rows.numbers("reading_order"), 100 * rows.numbers("area_share")
    several = _page(shelf, "panel_count") > 1
    first = np.where((order == 1) & several[shelf.page_of_sheet[rows.sheet]], area, np.nan)
    size, number = _greatest(shelf, first)
    found = _top(shelf, size, "opens on {:.0f} % of the page", marked=number)
    return found + _top(shelf, size, "opens on {:.0f} %", least=True, marked=number)


def _of_gutters(shelf: Shelf) -> list[Example]:
    width, unit = _page(shelf, "tier_gutter_mm"), "mm between tiers"
    if not np.isfinite(width).any():
        width, unit = 100 * _page(shelf, "tier_gutter_share"), "% of the width"
    uneven = 100 * _page(shelf, "gutter_cv")
    return (
        _top(shelf, width, f"{{:.1f}} {unit}", 2)
        + _top(shelf, width, f"{{:.1f}} {unit}", 2, least=True)
        + _top(shelf, uneven, "vary by {:.0f} %", 2)
    )


def _of_margins(shelf: Shelf) -> list[Example]:
    cover = 100 * _page(shelf, "density")
    return _top(shelf, cover, "panels on {:.0f} %") + _top(
        shelf, cover, "panels on {:.0f} %", least=True
    )


def _of_bleeds(shelf: Shelf) -> list[Example]:
    edges = np.sum([_page(shelf, f"bleed_{e}") == 1.0 for e in PageEdge], axis=0).astype(float)
    found = _top(shelf, np.where(edges > 0, edges, np.nan), "{:.0f}", 6)
    words = {"1": "bleeds at one edge"}
    return [
        Example(e.page_id, words.get(e.why, f"bleeds at {e.why} edges"), e.marked) for e in found
    ]


def _of_borders(shelf: Shelf) -> list[Example]:
    weight, number = _greatest(shelf, shelf.panel_rows.numbers("border_mm"))
    wobble, shaky = _greatest(shelf, shelf.panel_rows.numbers("wobble_mm"))
    return _top(shelf, weight, "border of {:.2f} mm", marked=number) + _top(
        shelf, wobble, "wobbles by {:.2f} mm", marked=shaky
    )


def _of_lettering(shelf: Shelf) -> list[Example]:
    rows = shelf.panel_rows
    lettered, most = _greatest(shelf, 100 * rows.numbers("lettered_share"))
    ink = 100 * rows.numbers("ink_density")
    (full, fullest), (quiet, quietest) = _greatest(shelf, ink), _greatest(shelf, ink, least=True)
    return (
        _top(shelf, lettered, "{:.0f} % lettering", 2, marked=most)
        + _top(shelf, full, "{:.0f} % ink", 2, marked=fullest)
        + _top(shelf, quiet, "{:.0f} % ink", 2, least=True, marked=quietest)
    )
