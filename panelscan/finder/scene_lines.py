"""A scene as plain text: one beat a line, with its marks in square brackets at the end.

::

    # The lock house, at night
    Rain on the lock house roof [establishing, wide, silent]
    Ilse counts the keys: "One is missing." [medium]
    The door stands open [reveal, big, 12 words]

What stands between quotation marks is lettering; a number of words in the brackets
counts instead. Empty lines and lines that start with ``#`` are passed over.
"""

from __future__ import annotations

import re
from typing import Any

from panelscan.finder.beats import Beat
from panelscan.finder.scene_words import (
    SHAPES,
    SHOTS,
    WEIGHTS,
    Problem,
    count_words,
    nearest,
    speeches,
    too_many_words,
    whole_number,
)

_FLAGS = {
    "silent": "silent",
    "reveal": "reveal",
    "reveal after page turn": "reveal",
    "keep": "keep_with_next",
    "keep with next": "keep_with_next",
}
_TABLES: tuple[tuple[str, dict[str, Any]], ...] = (
    ("weight", WEIGHTS),
    ("shot", SHOTS),
    ("shape", SHAPES),
)
_SHORT = 2  # one-letter forms are for table cells only
MARKS = (
    "small",
    "normal",
    "big",
    "establishing",
    "long",
    "medium",
    "close-up",
    "detail",
    "wide",
    "tall",
    "silent",
    "reveal",
    "keep",
    "12 words",
)


def read_lines(text: str) -> tuple[list[Beat], list[Problem]]:
    """Beats of a plain-text scene, and all that is wrong with it.

    Examples
    --------
    >>> beats, problems = read_lines("A knock [close-up, 3 words]")
    >>> beats[0].shot.value, beats[0].words, problems
    ('close-up', 3, [])
    """
    beats: list[Beat] = []
    problems: list[Problem] = []
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip() and not line.lstrip().startswith("#"):
            beat = _read_line(line, number, problems)
            if beat is not None:
                beats.append(beat)
    return beats, problems


def _read_line(line: str, number: int, problems: list[Problem]) -> Beat | None:
    """One beat, or None with the reason added to `problems`."""
    before = len(problems)
    what, marks, start = _parted(line, number, problems)
    fields: dict[str, Any] = {}
    for mark, column in _marks(marks, start):
        _read_mark(mark, number, column, fields, problems)
    balloons = tuple(count_words(s) for s in speeches(what))
    if "words" not in fields and not fields.get("silent"):
        fields["words"], fields["balloons"] = sum(balloons), balloons
    said = fields.get("words", 0) or sum(balloons)
    fault = too_many_words(said)
    if fault:
        problems.append(Problem(number, start + 1, *fault))
    if fields.get("silent") and said:
        problems.append(
            Problem(
                number,
                start + 1,
                f"A silent beat has {said} words.",
                "Take out 'silent' or the words.",
            )
        )
    if not what.strip():
        problems.append(
            Problem(number, 1, "Nothing is said of what happens.", "Write it before the bracket.")
        )
    if len(problems) > before:
        return None
    return Beat(what.strip(), line=number, **fields)


def _parted(line: str, number: int, problems: list[Problem]) -> tuple[str, str, int]:
    """What happens, the text between the last brackets, and where that starts (from 0)."""
    bare = line.rstrip()
    opening = bare.rfind("[")
    if bare.endswith("]") and opening >= 0:
        return bare[:opening], bare[opening + 1 : -1], opening + 1
    if opening >= 0 and "]" not in bare[opening:]:
        problems.append(
            Problem(
                number, opening + 1, "The bracket is not closed.", "Put ']' at the end of the line."
            )
        )
    elif "[" not in bare and bare.endswith("]"):
        problems.append(
            Problem(
                number,
                len(bare),
                "A bracket closes that was not opened.",
                "Put '[' before the first mark.",
            )
        )
    return bare, "", len(bare)


def _marks(marks: str, start: int) -> list[tuple[str, int]]:
    """Each mark and its column from 1."""
    return [
        (m.group().strip(), start + m.start() + 1 + len(m.group()) - len(m.group().lstrip()))
        for m in re.finditer(r"[^,;]+", marks)
        if m.group().strip()
    ]


def _read_mark(
    mark: str, line: int, column: int, fields: dict[str, Any], problems: list[Problem]
) -> None:
    """Put what a mark says into `fields`, or a problem into `problems`."""
    word = " ".join(mark.casefold().split())
    found: tuple[str, Any] | None = None
    if word in _FLAGS:
        found = _FLAGS[word], True
    elif whole_number(word) is not None:
        found = "words", whole_number(word)
    elif len(word) > _SHORT:
        shot = word.removesuffix(" shot")
        found = next(
            ((name, known[w]) for name, known in _TABLES for w in (word, shot) if w in known), None
        )
    if found is None:
        hint = nearest(word, [*MARKS, *_FLAGS])
        known = ", ".join(MARKS)
        problems.append(
            Problem(line, column, f"'{mark}' is no mark. {hint}".strip(), f"Marks are: {known}.")
        )
    elif found[0] in fields and fields[found[0]] != found[1]:
        problems.append(
            Problem(
                line,
                column,
                f"'{mark}' says otherwise than a mark before it.",
                "Keep one of the two.",
            )
        )
    else:
        fields[found[0]] = found[1]
