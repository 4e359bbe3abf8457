"""The habits as one offline HTML file: no network, opens from a memory stick, prints well."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import pandas as pd

from panelscan.study.figures import Figure
from panelscan.study.grids import GridUse
from panelscan.study.habits import Habits
from panelscan.study.label_report import label_sections
from panelscan.study.miniature import grid_picture, rings_of
from panelscan.study.norms import norms_for
from panelscan.study.plots import Plot, all_plots
from panelscan.study.shelf import Shelf

STYLE = """
:root { color-scheme: light; }
body { font: 16px/1.5 Georgia, "Times New Roman", serif; color: #22303c; background: #f7f5f0;
  margin: 0; }
main { max-width: 62rem; margin: 0 auto; padding: 1rem 1.2rem 4rem; }
h1 { font-size: 1.9rem; margin: 1.5rem 0 .2rem; }
h2 { font-size: 1.3rem; margin: 2.6rem 0 .6rem; border-top: 3px solid #22303c;
  padding-top: .5rem; }
nav ul { list-style: none; padding: 0; display: flex; flex-wrap: wrap; gap: .3rem 1.2rem; }
a { color: #1d5273; }
figure { margin: 1rem 0; background: #fff; padding: .8rem; border: 1px solid #dfe6ea;
  break-inside: avoid; }
figure svg { width: 100%; height: auto; max-height: 26rem; display: block; }
figcaption { font-size: .95rem; margin-top: .4rem; }
.pairs { display: grid; gap: 1rem;
  grid-template-columns: repeat(auto-fit, minmax(min(100%, 27rem), 1fr)); }
.pairs figure { margin: 0; }
table { border-collapse: collapse; width: 100%; background: #fff; font-size: .95rem; }
th, td { text-align: left; padding: .3rem .6rem; border-bottom: 1px solid #dfe6ea;
  vertical-align: top; }
td.number, th.number { text-align: right; white-space: nowrap; }
.minis { display: flex; flex-wrap: wrap; gap: 1rem; padding: 0; list-style: none; }
.minis li { width: 8.2rem; font-size: .85rem; }
.minis svg { height: 9.4rem; width: auto; max-width: 8.2rem; display: block; }
.note { color: #4a5560; font-size: .95rem; }
.small { color: #8a3d0c; }
section:target { outline: 3px solid #b3642c; outline-offset: 6px; }
.scroll { overflow-x: auto; }
@media print { body { background: #fff; font-size: 11pt; } nav { display: none; }
  h2 { break-after: avoid; } }
"""


def report_html(shelf: Shelf, habits: Habits, title: str = "Layout habits") -> str:
    """The whole report.

    Parameters
    ----------
    shelf : Shelf
        The pages studied.
    habits : Habits
        Their habits.
    title : str
        Heading of the report.

    Returns
    -------
    str
        One HTML document that asks nothing of a network.
    """
    shown = _shown_pages(shelf, habits)
    plots = all_plots(shelf, habits)
    sections = [_grids_section(shelf, habits)]
    sections += [_section(name, figures, plots) for name, figures in habits.sections.items()]
    sections += [label_sections(habits), _drift_section(habits, plots)]
    sections += [_clear_section(shelf, habits)]
    sections += [_gallery(shelf, shown), _method_section(habits)]
    body = "\n".join(s for s in sections if s)
    return (
        "<!DOCTYPE html>\n"
        f'<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<style>{STYLE}</style></head><body><main>\n"
        f"<h1>{escape(title)}</h1>\n{_opening(habits)}\n{_contents(habits)}\n{body}\n"
        "</main></body></html>\n"
    )


def _opening(habits: Habits) -> str:
    books = f"{len(habits.books)} book{'s' if len(habits.books) != 1 else ''}"
    mean = habits.figure("panels_per_page_mean").text()
    few = (
        ' <span class="small">That is a small sample: take every figure lightly.</span>'
        if habits.figure("panels_per_page_mean").is_small
        else ""
    )
    return (
        f"<p>{habits.pages} pages with {habits.panels} panels from {books}; "
        f"{habits.reviewed} pages looked over by a person. On average {mean} panels a page.{few}"
        "</p>"
    )


def _contents(habits: Habits) -> str:
    names = ["Most used grids", *habits.sections, "Book by book", "Least clear pages", "How sure"]
    items = "".join(f'<li><a href="#{_slug(n)}">{escape(n)}</a></li>' for n in names)
    return f'<nav aria-label="Contents"><ul>{items}</ul></nav>'


def _section(name: str, figures: Sequence[Figure], plots: Sequence[Plot]) -> str:
    pictures = "".join(_figure(p) for p in plots if p.section == name)
    rows = "".join(_row(f) for f in figures)
    table = (
        '<div class="scroll" tabindex="0" role="region" aria-label="Table: '
        f'{escape(name)}"><table><thead><tr><th scope="col">Habit</th>'
        '<th scope="col" class="number">Value (90 % interval)</th>'
        '<th scope="col" class="number">Rests on</th><th scope="col">Published, to compare</th>'
        f"</tr></thead><tbody>{rows}</tbody></table></div>"
    )
    return (
        f'<section id="{_slug(name)}"><h2>{escape(name)}</h2>'
        f'<div class="pairs">{pictures}</div>{table}</section>'
    )


def _row(figure: Figure) -> str:
    norms = "; ".join(
        f"{escape(n.text)} <span class='note'>({escape(n.source)}; {escape(n.standing)})</span>"
        for n in norms_for(figure.key)
    )
    small = ' <span class="small">few</span>' if figure.is_known and figure.is_small else ""
    return (
        f'<tr><th scope="row">{escape(figure.title)}</th><td class="number">'
        f'{escape(figure.text())}</td><td class="number">{figure.count}{small}</td>'
        f"<td>{norms}</td></tr>"
    )


def _figure(plot: Plot) -> str:
    return (
        f'<figure id="plot-{plot.name}">{plot.picture.source()}'
        f"<figcaption>{escape(plot.caption)}</figcaption></figure>"
    )


def _grids_section(shelf: Shelf, habits: Habits) -> str:
    items = "".join(_grid_item(shelf, use) for use in habits.grids)
    effective = habits.figure("effective_grids").text()
    return (
        '<section id="most-used-grids"><h2>Most used grids</h2>'
        f"<p>In effect {effective} different grids, counted by tiers. "
        "A name such as 2-1-3 gives the panels in each tier from the top. "
        f'Click a grid to see pages with it.</p><ul class="minis">{items}</ul></section>'
    )


def _grid_item(shelf: Shelf, use: GridUse) -> str:
    page_id = use.examples[0]
    picture = _page_picture(shelf, page_id, f"Grid {use.pattern}", numbered=False)
    more = " ".join(
        f'<a href="#page-{escape(e)}">{escape(_page_name(shelf, e))}</a>' for e in use.examples
    )
    return (
        f'<li><a href="#page-{escape(page_id)}" aria-label="Grid {escape(use.pattern)}, see the '
        f'page">{picture}</a><strong>{escape(use.pattern)}</strong><br>{_pages(use.pages)}, '
        f"{100 * use.share:.0f} %<br>{more}</li>"
    )


def _pages(count: int) -> str:
    return f"{count} page{'' if count == 1 else 's'}"


def _drift_section(habits: Habits, plots: Sequence[Plot]) -> str:
    pictures = "".join(_figure(p) for p in plots if p.section == "Book by book")
    lines = []
    for trend in habits.trends:
        word = "stands out" if trend.stands_out else "does not stand out of its uncertainty"
        lines.append(
            f"{trend.title}: {trend.slope:+.3g} a book ({trend.low:+.3g} to {trend.high:+.3g}) "
            f"over {trend.books} books; this {word}."
        )
    lines += [
        f"{c.title}: another level after {c.after_book} ({c.before:.3g}, then {c.after:.3g})."
        for c in habits.changes
    ]
    if habits.new_patterns:
        lines.append(f"New in the last book: {', '.join(habits.new_patterns)}.")
    if not lines:
        lines = ["Too few books to speak of drift; four are the least for a trend."]
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return (
        '<section id="book-by-book"><h2>Book by book</h2>'
        f'<div class="pairs">{pictures}</div><ul>{items}</ul></section>'
    )


def _clear_section(shelf: Shelf, habits: Habits) -> str:
    items = "".join(
        f'<li><a href="#page-{escape(p)}">{_page_picture(shelf, p, _page_name(shelf, p))}</a>'
        f"{escape(_page_name(shelf, p))}</li>"
        for p in habits.least_clear
    )
    return (
        '<section id="least-clear-pages"><h2>Least clear pages</h2><p>Where readers are most '
        "likely to part, by the layout alone. You decide whether that is meant.</p>"
        f'<ul class="minis">{items}</ul></section>'
    )


def _gallery(shelf: Shelf, shown: Sequence[str]) -> str:
    parts = []
    for page_id in shown:
        row = shelf.pages.loc[shelf.pages["page_id"] == page_id].iloc[0]
        parts.append(
            f'<section id="page-{escape(page_id)}" class="page"><figure>'
            f"{_page_picture(shelf, page_id, _page_name(shelf, page_id), height=320)}"
            f"<figcaption>{escape(_page_name(shelf, page_id))}: {int(row['panel_count'])} panels, "
            f"tiers {escape(str(row['tier_pattern']))}<br>{escape(str(row['source_path']))}"
            "</figcaption></figure></section>"
        )
    return f'<h2 id="pages-shown">Pages shown</h2><div class="pairs">{"".join(parts)}</div>'


def _method_section(habits: Habits) -> str:
    return (
        '<section id="how-sure"><h2>How sure</h2><p>Finding panels is not perfect. Every figure '
        "is worked out on many resampled shelves of your pages, each with one of the readings "
        "that were kept for a doubtful page; pages that you looked over count as certain. The "
        "interval holds the middle 90 % of those. Figures from fewer than 20 pages or panels are "
        "marked. Published figures are neighbours, not marks to reach: you decide.</p></section>"
    )


def _shown_pages(shelf: Shelf, habits: Habits) -> list[str]:
    wanted = [e for use in habits.grids for e in use.examples] + list(habits.least_clear)
    return list(dict.fromkeys(wanted))


def _page_picture(
    shelf: Shelf, page_id: str, title: str, numbered: bool = True, height: float = 150.0
) -> str:
    of_page = shelf.panels[shelf.panels["page_id"] == page_id].sort_values("reading_order")
    row = shelf.pages.loc[shelf.pages["page_id"] == page_id].iloc[0]
    aspect = float(row["aspect"]) if pd.notna(row["aspect"]) else 2 / 3
    rings = rings_of(of_page["geometry_page"].tolist()) if len(of_page) else []
    return grid_picture(title, rings, aspect, numbered, height).source()


def _page_name(shelf: Shelf, page_id: str) -> str:
    row = shelf.pages.loc[shelf.pages["page_id"] == page_id].iloc[0]
    return f"{row['book']}, page {int(row['page_number'])}"


def _slug(name: str) -> str:
    return "".join(c if c.isalnum() else "-" for c in name.lower())
