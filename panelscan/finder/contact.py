"""Contact sheets of answers and plans, as SVG, PNG or one offline HTML file."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from pathlib import Path

from panelscan.errors import OutputExistsError, UsageError
from panelscan.finder.beats import Scene
from panelscan.finder.cards import CardSheet, Thumbs, sheet_of_answer, sheet_of_plan
from panelscan.finder.contact_html import html_of
from panelscan.finder.contact_marks import marks_of
from panelscan.finder.contact_png import png_of
from panelscan.finder.contact_svg import svg_of
from panelscan.finder.plan_types import Plan
from panelscan.finder.query import Answer
from panelscan.model.grid import Grid

ENDINGS = (".html", ".svg", ".png")


def write_contact_sheet(
    answer: Answer, out: str | Path, thumbs: Thumbs | None = None, *, overwrite: bool = False
) -> Path:
    """Draw an answer: each page's grid, its picture where there is one, and its reasons.

    Parameters
    ----------
    answer : Answer
        As from `panelscan.finder.search.search`.
    out : path
        Ends in .html, .svg or .png.
    thumbs : callable, optional
        Gives the picture of a page by its id, PNG or JPEG bytes, or None.
    overwrite : bool
        Whether a file that is there may be replaced.

    Raises
    ------
    OutputExistsError
        If the file is there already.
    UsageError
        If the ending is none of ours, or a PNG would be too large.
    """
    return write_sheet(sheet_of_answer(answer, thumbs), out, overwrite=overwrite)


def write_plan_sheet(
    plan: Plan,
    scene: Scene,
    grid_of: Callable[[int], Grid],
    out: str | Path,
    thumbs: Thumbs | None = None,
    *,
    overwrite: bool = False,
) -> Path:
    """Draw a plan page by page, facing pages side by side; see `write_contact_sheet`.

    Parameters
    ----------
    grid_of : callable
        Grid of a place in the shelf or index that the plan was made with.
    """
    return write_sheet(sheet_of_plan(plan, scene, grid_of, thumbs), out, overwrite=overwrite)


def write_sheet(sheet: CardSheet, out: str | Path, *, overwrite: bool = False) -> Path:
    """Write a sheet of cards in the form that the file's ending says, whole or not at all."""
    out = Path(out)
    ending = out.suffix.lower()
    if ending not in ENDINGS:
        raise UsageError(f"{out}: no contact sheet ends in '{ending}'.", "Use .html, .svg or .png.")
    if out.exists() and not overwrite:
        raise OutputExistsError(f"{out} is there already.", "Give another name, or allow it.")
    data = _drawn(sheet, ending, out)
    out.parent.mkdir(parents=True, exist_ok=True)
    aside = out.with_name(f".{out.stem}-{uuid.uuid4().hex[:8]}")
    try:
        aside.write_bytes(data)
        aside.replace(out)
    finally:
        aside.unlink(missing_ok=True)
    return out


def _drawn(sheet: CardSheet, ending: str, out: Path) -> bytes:
    if ending == ".html":
        return html_of(sheet).encode()
    if ending == ".svg":
        return svg_of(marks_of(sheet)).encode()
    try:
        return png_of(marks_of(sheet))
    except ValueError as error:
        raise UsageError(f"{out}: {error}.", "Use .html or .svg.") from error
