"""The habits as one offline HTML file: no network, opens from a memory stick, prints well."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING

from panelscan.study.drift import LEAST_BOOKS_FOR_TREND
from panelscan.study.examples import Example, examples_of
from panelscan.study.grids import GridUse
from panelscan.study.habits import Habits
from panelscan.study.label_report import label_bodies, stage_words
from panelscan.study.markup import figure_table, minis, section, slug, text_table
from panelscan.study.pages_shown import PagesShown
from panelscan.study.plots import all_plots
from panelscan.study.plotting import Plot
from panelscan.study.report_style import STYLE
from panelscan.study.shelf import Shelf

if TYPE_CHECKING:
    import pandas as pd

NEW_SHOWN, KEY_MOST = 8, 40
BOOKS, STAGES = "Book by book", "Rough against final"
HEADINGS = {
    "Pages": "Pages at either end",
    "Page turns": "Last panels before a turn, large and small",
    "Panels": "Pages that show it",
    "Size by place in the order": "Pages by their first panel",
    "Gutters": "Widest, narrowest, most uneven",
    "Margins": "Fullest and airiest pages",
    "Bleeds": "Pages that bleed most",
    "Borders": "Heaviest and shakiest borders",
    "Lettering room": "Most lettering, most and least ink",
    "Reading": "Least clear pages",
}


def report_html(
    shelf: Shelf,
    habits: Habits,
    title: str = "Layout habits",
    tables: Mapping[str, pd.DataFrame] | None = None,
) -> str:
    """The whole report.

    Parameters
    ----------
    shelf : Shelf
        The pages studied.
    habits : Habits
        Their habits.
    title : str
        Heading of the report.
    tables : mapping of str to DataFrame, or None
        Further tables to show, by heading: books against each other, groups.

    Returns
    -------
    str
        One HTML document that asks nothing of a network.
    """
    examples = examples_of(shelf, habits)
    pages = PagesShown(shelf, _ids(habits, examples))
    plots = _pictures(all_plots(shelf, habits))
    names, sections = [], []
    for name, body in _bodies(habits, plots, pages, examples, tables or {}):
        names.append(name)
        sections.append(section(name, body))
    sections += [pages.gallery(), _method_section()]
    return (
        "<!DOCTYPE html>\n"
        f'<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<style>{STYLE}</style></head><body><main>\n"
        f"<h1>{escape(title)}</h1>\n{_opening(habits)}\n{_contents(names)}\n"
        + "\n".join(sections)
        + "\n</main></body></html>\n"
    )


def _ids(habits: Habits, examples: Mapping[str, Sequence[Example]]) -> list[str]:
    """Pages that the report draws, in the order in which they come up."""
    wanted = [e for use in habits.grids for e in use.examples]
    wanted += [e.page_id for pages in examples.values() for e in pages]
    wanted += [n.example for n in habits.new_patterns[:NEW_SHOWN]]
    if habits.stages is not None:
        wanted += [page_id for pair in habits.stages.changed_most for page_id in pair]
    return wanted


def _pictures(plots: Sequence[Plot]) -> dict[str, str]:
    """Pictures of each section, side by side where there is room."""
    by_section: dict[str, list[str]] = {}
    for plot in plots:
        by_section.setdefault(plot.section, []).append(
            f'<figure id="plot-{plot.name}"><strong aria-hidden="true">'
            f"{escape(plot.picture.title)}</strong>{plot.picture.source()}"
            f"<figcaption>{escape(plot.caption)}</figcaption></figure>"
        )
    return {name: f'<div class="pairs">{"".join(p)}</div>' for name, p in by_section.items()}


def _bodies(
    habits: Habits,
    plots: Mapping[str, str],
    pages: PagesShown,
    examples: Mapping[str, Sequence[Example]],
    tables: Mapping[str, pd.DataFrame],
) -> Iterator[tuple[str, str]]:
    """Heading and HTML of each section, in order."""
    yield "Most used grids", _grids(habits, pages)
    for name, table in tables.items():
        yield name, text_table(table, name)
    for name, figures in habits.sections.items():
        items = [pages.mini(e.page_id, e.why, e.marked) for e in examples.get(name, ())]
        shown = minis(HEADINGS.get(name, "Pages that show it"), items)
        words = stage_words(habits, pages) if name == STAGES else ""
        yield name, words + plots.get(name, "") + shown + figure_table(name, figures)
    yield from label_bodies(habits, plots)
    yield BOOKS, _books(habits, plots, pages)


def _opening(habits: Habits) -> str:
    books = f"{len(habits.books)} book{'s' if len(habits.books) != 1 else ''}"
    mean = habits.figure("panels_per_page_mean")
    few = (
        ' <span class="small">That is a small sample: take every figure lightly.</span>'
        if mean.is_small
        else ""
    )
    pages = "1 page" if habits.pages == 1 else f"{habits.pages:,} pages"
    return (
        f"<p>{pages} with {habits.panels:,} panels from {books}; {habits.reviewed:,} of the pages "
        f"looked over by a person. On average {mean.text()} panels a page.{few}</p>"
    )


def _contents(names: Sequence[str]) -> str:
    links = [
        *((slug(n), n) for n in names),
        ("pages-shown", "Pages shown"),
        ("how-sure", "How sure"),
    ]
    items = "".join(f'<li><a href="#{link}">{escape(name)}</a></li>' for link, name in links)
    return f'<nav aria-label="Contents"><ul>{items}</ul></nav>'


def _grids(habits: Habits, pages: PagesShown) -> str:
    items = "".join(_grid_item(pages, use) for use in habits.grids)
    effective = habits.figure("effective_grids").text()
    return (
        f"<p>In effect {effective} different grids, counted by tiers. "
        "A name such as 2-1-3 gives the panels in each tier from the top. "
        f'Click a grid to see a page with it.</p><ul class="minis">{items}</ul>'
    )


def _grid_item(pages: PagesShown, use: GridUse) -> str:
    first = use.examples[0]
    picture = pages.picture(first, f"Grid {use.pattern}", numbered=False)
    more = "<br>".join(
        f'<a href="#page-{escape(e)}">{escape(pages.name(e))}</a>' for e in use.examples
    )
    count = f"{use.pages:.0f} page{'' if round(use.pages) == 1 else 's'}"
    return (
        f'<li><a href="#page-{escape(first)}" aria-label="Grid {escape(use.pattern)}, see the '
        f'page">{picture}</a><strong>{escape(use.pattern)}</strong><br>{count}, '
        f"{100 * use.share:.0f} %<br>{more}</li>"
    )


def _books(habits: Habits, plots: Mapping[str, str], pages: PagesShown) -> str:
    words = ""
    if len(habits.books) < LEAST_BOOKS_FOR_TREND:
        words = (
            f"<p>{len(habits.books)} book{'s' if len(habits.books) != 1 else ''}: too few to speak "
            f"of a trend; {LEAST_BOOKS_FOR_TREND} are the least.</p>"
        )
    if len(habits.books) > 1:
        named = [f"{k} {escape(b)}" for k, b in enumerate(habits.books[:KEY_MOST], start=1)]
        rest = (
            f", and {len(habits.books) - KEY_MOST:,} more" if len(habits.books) > KEY_MOST else ""
        )
        words += f'<p class="note">The books in order: {", ".join(named)}{rest}.</p>'
    out = [t for t in habits.trends if t.stands_out]
    if habits.trends:
        told = "; ".join(f"{t.title} {t.slope:+.3g} a book" for t in out) or "none"
        words += f"<p>Trends that stand out of their uncertainty: {escape(told)}.</p>"
    items = [
        pages.mini(n.example, f"{n.pattern}: {n.pages} page{'' if n.pages == 1 else 's'}")
        for n in habits.new_patterns[:NEW_SHOWN]
    ]
    new = minis(f"New in the last book, {habits.books[-1]}", items)
    if len(habits.books) > 1 and not items:
        new = f"<p>The last book, {escape(habits.books[-1])}, has no grid that is new.</p>"
    return words + plots.get(BOOKS, "") + new


def _method_section() -> str:
    return (
        '<section id="how-sure"><h2>How sure</h2><p>Finding panels is not perfect. Every figure '
        "is worked out on many resampled shelves of your pages: books (or pages, where there are "
        "few books) drawn with replacement, and for each page in doubt one of the readings that "
        "were kept, as often as it is likely, with its panels, gutters, tiers and bleeds. Panels "
        "count by their confidence; pages that you looked over count as certain. The interval "
        "holds the middle 90 % of those shelves. Figures from fewer than 20 pages, panels or "
        "gutters are marked “few”. Published figures are neighbours, not marks to reach: you "
        "decide.</p></section>"
    )
