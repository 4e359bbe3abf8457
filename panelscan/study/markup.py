"""The few pieces of HTML that the report is made of."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

from panelscan.study.figures import Figure
from panelscan.study.norms import norms_for

if TYPE_CHECKING:
    import pandas as pd


def slug(name: str) -> str:
    """Name as an address inside the page.

    Examples
    --------
    >>> slug("Page turns")
    'page-turns'
    """
    return "".join(c if c.isalnum() else "-" for c in name.lower())


def section(name: str, body: str) -> str:
    """A section with its heading."""
    return f'<section id="{slug(name)}"><h2>{escape(name)}</h2>{body}</section>'


def minis(title: str, items: Sequence[str]) -> str:
    """A row of small pages under a heading; nothing where there are none."""
    if not items:
        return ""
    return f'<h3>{escape(title)}</h3><ul class="minis">{"".join(items)}</ul>'


def scroll(name: str, table: str) -> str:
    """A table that scrolls sideways on a narrow screen, by keyboard too."""
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-label="{escape(name)}">{table}</div>'
    )


def figure_table(name: str, figures: Sequence[Figure]) -> str:
    """Figures with their intervals, published figures under each."""
    rows = "".join(_row(f) for f in figures if f.is_known)
    unknown = [f.title for f in figures if not f.is_known]
    note = ""
    if unknown:
        few = "; ".join(escape(t) for t in unknown[:6]) + ("; …" if len(unknown) > 6 else "")
        note = f'<p class="note">Nothing to measure yet: {few}.</p>'
    if not rows:
        return note
    table = (
        '<table class="figures"><thead><tr><th scope="col">Habit</th>'
        '<th scope="col" class="number">Value (90 % interval)</th>'
        '<th scope="col" class="number">Rests on</th></tr></thead>'
        f"<tbody>{rows}</tbody></table>"
    )
    return scroll(f"Table: {name}", table) + note


def _row(figure: Figure) -> str:
    norms = "".join(
        f'<br><span class="note">Published: {escape(n.text)} ({escape(n.source)}; '
        f"{escape(n.standing)})</span>"
        for n in norms_for(figure.key)
    )
    small = ' <span class="small">few</span>' if figure.is_small else ""
    value, _, rest = figure.text().partition(" (")
    interval = f' <span class="note">({escape(rest)}</span>' if rest else ""
    return (
        f'<tr><th scope="row">{escape(figure.title)}{norms}</th><td class="number">'
        f'{escape(value)}{interval}</td><td class="number">{figure.count:,}{small}</td></tr>'
    )


def number_table(table: pd.DataFrame, name: str) -> str:
    """A frame of numbers, its index as row heads."""
    head = "".join(f'<th scope="col" class="number">{escape(str(c))}</th>' for c in table.columns)
    rows = "".join(
        f'<tr><th scope="row">{escape(str(index))}</th>'
        + "".join(f'<td class="number">{value:.3g}</td>' for value in row)
        + "</tr>"
        for index, row in zip(table.index, table.to_numpy(dtype=float), strict=True)
    )
    return scroll(
        name,
        f"<table><caption>{escape(name)}</caption><thead><tr><td></td>{head}</tr></thead>"
        f"<tbody>{rows}</tbody></table>",
    )


def text_table(table: pd.DataFrame, name: str) -> str:
    """A frame of texts, its first column as row heads."""
    head = "".join(f'<th scope="col">{escape(str(c))}</th>' for c in table.columns)
    rows = "".join(
        f'<tr><th scope="row">{escape(str(row[0]))}</th>'
        + "".join(f"<td>{escape(str(value))}</td>" for value in row[1:])
        + "</tr>"
        for row in table.to_numpy(dtype=object).tolist()
    )
    return scroll(name, f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>")
