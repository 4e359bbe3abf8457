"""Words, numbers and signs of the written grid, each with its place in the text."""

from __future__ import annotations

import re
from dataclasses import dataclass

from panelscan.errors import NotationError

COUNTS = (
    "one", "two", "three", "four", "five", "six",
    "seven", "eight", "nine", "ten", "eleven", "twelve",
)  # fmt: skip
EDGE_WORDS = ("left", "top", "right", "bottom")
WORDS = frozenset(
    (
        *COUNTS, *EDGE_WORDS, "then", "and", "over", "tall", "wide", "gap", "slant", "bleed",
        "all", "round", "inset", "corners", "loose", "at", "page", "by", "margin", "gutter",
        "to", "read", "fold", "any", "some", "or",
    )
)  # fmt: skip
_TOKEN = re.compile(r"\s*(?:([A-Za-z]+)|(-?\d+(?:\.\d+)?)|([(),;:]))")
REMEDY = "Write for example: two then one wide 2 and one then three"


@dataclass(frozen=True)
class Token:
    """A piece of text: kind ``"word"``, ``"number"``, ``"sign"`` or ``"end"``."""

    kind: str
    text: str
    position: int

    @property
    def count(self) -> int | None:
        """How many panels the token says, None if it says none."""
        if self.text in COUNTS:
            return COUNTS.index(self.text) + 1
        if self.kind == "number" and self.text.isdigit() and 1 <= int(self.text) <= 24:
            return int(self.text)
        return None


def tokens_of(text: str) -> list[Token]:
    """Tokens of a text, closed by one of kind ``"end"``.

    Raises
    ------
    NotationError
        At a character or word that the notation does not have.
    """
    found, at = [], 0
    while text[at:].strip():
        match = _TOKEN.match(text, at)
        if match is None:
            at += len(text[at:]) - len(text[at:].lstrip())
            raise NotationError(text, at, f"'{text[at]}' has no meaning in a written grid.", REMEDY)
        kind = ("word", "number", "sign")[(match.lastindex or 1) - 1]
        word = match.group(match.lastindex or 1).lower()
        start = match.start(match.lastindex or 1)
        if kind == "word" and word not in WORDS:
            raise NotationError(text, start, f"The word '{word}' is not known.", _nearest(word))
        found.append(Token(kind, word, start))
        at = match.end()
    return [*found, Token("end", "", len(text.rstrip()))]


def _nearest(word: str) -> str:
    import difflib

    close = difflib.get_close_matches(word, sorted(WORDS), 1)
    return f"Did you mean '{close[0]}'?" if close else REMEDY
