"""A scene as a table from a spreadsheet: one beat a row, headings in the first row.

Headings, in any order; only the first is needed: ``what happens`` (or just ``what``),
``words`` (a number or the lettering itself, balloons parted by ``/``), ``weight``, ``shot``,
``shape``, ``silent``, ``reveal``, ``keep with next``. Other columns are the artist's own and
are passed over, unless they look like a misspelt one of these.
"""

from __future__ import annotations

import csv
import io
from difflib import get_close_matches
from typing import Any

from panelscan.finder.beats import Beat
from panelscan.finder.scene_words import (
    NO,
    SHAPES,
    SHOTS,
    WEIGHTS,
    YES,
    Problem,
    lettering,
    listed,
    nearest,
    too_many_words,
    whole_number,
)

HEADINGS = {
    "what happens": "text",
    "what": "text",
    "beat": "text",
    "action": "text",
    "words": "words",
    "lettering": "words",
    "weight": "weight",
    "shot": "shot",
    "shape": "shape",
    "wide or tall": "shape",
    "wide/tall": "shape",
    "silent": "silent",
    "reveal": "reveal",
    "reveal after page turn": "reveal",
    "keep": "keep_with_next",
    "keep with next": "keep_with_next",
}
_CHOICES: dict[str, tuple[dict[str, Any], list[str]]] = {
    "weight": (WEIGHTS, ["small", "normal", "big"]),
    "shot": (SHOTS, ["establishing", "long", "medium", "close-up", "detail"]),
    "shape": (SHAPES, ["wide", "tall"]),
}
_FLAGS = ("silent", "reveal", "keep_with_next")
_DELIMITERS = ",;\t"
ALMOST = 0.75  # likeness from which a heading is taken for a misspelt one of ours


def read_table(text: str) -> tuple[list[Beat], list[Problem]]:
    r"""Beats of a comma-, semicolon- or tab-separated scene, and all that is wrong with it.

    Examples
    --------
    >>> beats, problems = read_table("what happens;words\nA knock;3\n")
    >>> beats[0].words, problems
    (3, [])
    """
    rows = _rows(text)
    if not rows:
        return [], []
    (line, head), *body = rows
    columns, problems = _columns(head, line)
    if "text" not in columns.values():
        return [], problems
    beats = [_read_row(row, number, columns, head, problems) for number, row in body]
    return [b for b in beats if b is not None], problems


def looks_like_table(text: str) -> bool:
    """Whether the first filled line names at least two of our columns."""
    rows = _rows(text)
    return bool(rows) and sum(_heading(c) in HEADINGS for c in rows[0][1]) > 1


def _rows(text: str) -> list[tuple[int, list[str]]]:
    """Filled rows with the line each starts on."""
    skipped = 0
    if text[:4].casefold() == "sep=":  # a spreadsheet's own first line
        delimiter, skipped = text[4:5], 1
        text = text.partition("\n")[2]
    else:
        delimiter = _delimiter(text)
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    rows, start = [], 1 + skipped
    for row in reader:
        if any(cell.strip() for cell in row) and not row[0].lstrip().startswith("#"):
            rows.append((start, row))
        start = reader.line_num + 1 + skipped
    return rows


def _delimiter(text: str) -> str:
    """The separator under which the first filled line names most of our columns."""
    first = next((line for line in text.splitlines() if line.strip()), "")

    def named(delimiter: str) -> int:
        cells = next(csv.reader([first], delimiter=delimiter), [])
        return sum(_heading(c) in HEADINGS for c in cells)

    return max(_DELIMITERS, key=named)


def _heading(cell: str) -> str:
    return " ".join(cell.replace("_", " ").casefold().split())


def _columns(head: list[str], line: int) -> tuple[dict[int, str], list[Problem]]:
    """Which field stands in which column; doubled or missing headings are problems."""
    columns: dict[int, str] = {}
    problems: list[Problem] = []
    for place, cell in enumerate(head):
        field = HEADINGS.get(_heading(cell))
        if field is None:
            continue
        if field in columns.values():
            problems.append(
                _problem(
                    line,
                    place,
                    head,
                    f"'{cell.strip()}' is a second column for the same thing.",
                    "Keep one of the two.",
                )
            )
        else:
            columns[place] = field
    problems += _misspelt(head, line, set(columns.values()))
    if "text" not in columns.values():
        first = head[0].strip() if head else ""
        hint = nearest(first, list(HEADINGS))
        problems.append(
            _problem(
                line,
                0,
                head,
                f"No column is headed 'what happens'. {hint}",
                "The first row has to name the columns: what happens, words, "
                "weight, shot, shape, silent, reveal, keep with next.",
            )
        )
    return columns, problems


def _misspelt(head: list[str], line: int, found: set[str]) -> list[Problem]:
    """Headings that are nearly one of ours that is missing: passing them over loses a wish."""
    problems = []
    for place, cell in enumerate(head):
        name = _heading(cell)
        near = get_close_matches(name, HEADINGS, n=1, cutoff=ALMOST) if name else []
        if near and name not in HEADINGS and HEADINGS[near[0]] not in {*found, "text"}:
            what = f"No column is named '{cell.strip()}'. Did you mean '{near[0]}'?"
            change = f"Write '{near[0]}', or another name if the column is your own."
            problems.append(_problem(line, place, head, what, change))
    return problems


def _read_row(
    row: list[str], line: int, columns: dict[int, str], head: list[str], problems: list[Problem]
) -> Beat | None:
    """One beat, or None with the reasons added to `problems`."""
    before = len(problems)
    fields: dict[str, Any] = {}
    for place, field in columns.items():
        cell = row[place].strip() if place < len(row) else ""
        found = _read_cell(field, cell)
        if isinstance(found, str):
            what, _, change = found.partition("|")
            problems.append(_problem(line, place, head, what, change))
        else:
            fields |= found
    place_of = {field: place for place, field in columns.items()}
    if fields.get("silent") and fields.get("words"):
        problems.append(
            _problem(
                line,
                place_of["words"],
                head,
                f"A silent beat has {fields['words']} words.",
                "Empty this cell or the one under 'silent'.",
            )
        )
    if len(problems) == before and not fields.get("text"):
        problems.append(
            _problem(
                line,
                place_of["text"],
                head,
                "Nothing is said of what happens.",
                "Fill this cell, or empty the whole row.",
            )
        )
    return Beat(line=line, **fields) if len(problems) == before else None


def _read_cell(field: str, cell: str) -> dict[str, Any] | str:
    """Fields that a cell gives, or ``"what is wrong|what to change"``."""
    if field == "text":
        return {"text": " ".join(cell.split())}
    if field == "words":
        return _read_words(cell)
    word = cell.casefold()
    if field in _FLAGS:
        # The column's own name in its cell is a natural way to say yes.
        if word in YES or HEADINGS.get(_heading(cell)) == field:
            return {field: True}
        return {field: False} if word in NO else f"'{cell}' is neither yes nor no.|Write yes or no."
    known, names = _CHOICES[field]
    word = "" if word in NO and word != "n" else word.removesuffix(" shot")
    if word in known:
        return {field: known[word]}
    return (
        f"'{cell}' is no {field}. {nearest(word, list(known))}|Write {listed(names)}, "
        "or leave the cell empty."
    )


def _read_words(cell: str) -> dict[str, Any] | str:
    """A number of words, or the lettering itself."""
    if cell in ("", "-", "–"):
        return {}
    number = whole_number(cell)
    words, balloons = (number, ()) if number is not None else lettering(cell)
    fault = too_many_words(words)
    if fault:
        return "|".join(fault)
    if number is not None:
        return {"words": number}
    if cell.lstrip("+-").replace(".", "").replace(",", "").isdigit():
        return f"'{cell}' is no number of words.|Write a whole number from 0, or the lettering."
    return {"words": words, "balloons": balloons}


def _problem(line: int, place: int, head: list[str], what: str, change: str) -> Problem:
    name = head[place].strip() if place < len(head) else ""
    label = f"column {_letter(place)}" + (f" ({name})" if name else "")
    return Problem(line, place + 1, " ".join(what.split()), change, label)


def _letter(place: int) -> str:
    """Spreadsheet letter of a column counted from 0 (0 is A, 26 is AA)."""
    letters = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters
