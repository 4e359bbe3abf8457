"""The words a scene file may use, read with patience for spelling and spreadsheet habits."""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches

from panelscan.finder.beats import Shape, Shot, Weight

YES = frozenset({"yes", "y", "x", "true", "1", "✓", "✔", "ja", "oui"})
NO = frozenset({"", "no", "n", "false", "0", "-", "–", "—", "nein", "non"})

WEIGHTS = {
    "": Weight.NORMAL,
    "small": Weight.SMALL,
    "s": Weight.SMALL,
    "normal": Weight.NORMAL,
    "n": Weight.NORMAL,
    "big": Weight.BIG,
    "b": Weight.BIG,
    "large": Weight.BIG,
}
SHOTS = {
    "": Shot.ANY,
    "any": Shot.ANY,
    "establishing": Shot.ESTABLISHING,
    "extreme long": Shot.ESTABLISHING,
    "long": Shot.LONG,
    "full": Shot.MEDIUM,
    "medium": Shot.MEDIUM,
    "close-up": Shot.CLOSE_UP,
    "close": Shot.CLOSE_UP,
    "closeup": Shot.CLOSE_UP,
    "extreme close-up": Shot.DETAIL,
    "insert": Shot.DETAIL,
    "detail": Shot.DETAIL,
}
SHAPES = {"": Shape.ANY, "any": Shape.ANY, "wide": Shape.WIDE, "tall": Shape.TALL}

MOST_WORDS = 210  # a whole page's worth, common practice; see `room`

_WORD = re.compile(r"[^\W_]+(?:[-'’][^\W_]+)*")
_NUMBER = re.compile(r"^(\d+)(?:[.,]0+)?(?:\s*words?)?$", re.IGNORECASE)
_SPEECH = re.compile(r"\"([^\"]*)\"|“([^”]*)”|«([^»]*)»")


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong in a scene file: where, what, and what to change.

    Parameters
    ----------
    line, column : int
        From 1. In a table the column is the cell's, in text the character's.
    what, change : str
        One sentence each.
    column_name : str
        Spreadsheet letter and heading of the cell, where it is one.
    """

    line: int
    column: int
    what: str
    change: str
    column_name: str = ""

    def __str__(self) -> str:
        where = self.column_name or f"column {self.column}"
        return f"line {self.line}, {where}: {self.what} {self.change}"


def count_words(text: str) -> int:
    """Words of a piece of lettering; a run of letters or figures is a word.

    Examples
    --------
    >>> count_words("Don't! It's a half-built bridge…")
    5
    """
    return len(_WORD.findall(text))


def speeches(text: str) -> list[str]:
    """Pieces of lettering written between quotation marks, in order.

    Examples
    --------
    >>> speeches('Ilse: "Who is there?" Door: "Me."')
    ['Who is there?', 'Me.']
    """
    return [next(g for g in m.groups() if g is not None) for m in _SPEECH.finditer(text)]


def whole_number(text: str) -> int | None:
    """A count as people and spreadsheets write it (``12``, ``12.0``, ``12,0``, ``12 words``)."""
    found = _NUMBER.match(text.strip())
    return int(found.group(1)) if found else None


def too_many_words(words: int) -> tuple[str, str] | None:
    """What is wrong and what to change where a single beat says more than a page holds.

    Examples
    --------
    >>> too_many_words(250)[0]
    'One beat of 250 words can never fit: a whole page holds about 210.'
    """
    if words <= MOST_WORDS:
        return None
    return (
        f"One beat of {words} words can never fit: a whole page holds about {MOST_WORDS}.",
        "Part it in several beats.",
    )


def lettering(text: str) -> tuple[int, tuple[int, ...]]:
    """Words in all and in each balloon of written-out lettering, balloons parted by ``/``.

    Examples
    --------
    >>> lettering("Who left this open? / Not me.")
    (6, (4, 2))
    """
    pieces = [count_words(p) for p in re.split(r"\s*/\s*|\n+", text.strip())]
    balloons = tuple(p for p in pieces if p)
    return sum(balloons), balloons


def nearest(word: str, known: list[str]) -> str:
    """``" Did you mean 'wide'?"`` where a known word is near, else an empty text."""
    near = get_close_matches(word.casefold(), [k for k in known if k], n=1, cutoff=0.6)
    return f"Did you mean '{near[0]}'? " if near else ""


def listed(words: list[str]) -> str:
    """Words for a sentence: ``small, normal or big``."""
    return f"{', '.join(words[:-1])} or {words[-1]}" if len(words) > 1 else "".join(words)
