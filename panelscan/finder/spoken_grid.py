"""Grids as people say them: “three tiers, the last one a single panel”.

A sentence that counts tiers and says of some what they hold becomes a pattern of the
notation (``any then any then one``); everything else is left as it is.
"""

from __future__ import annotations

import re

COUNTS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7,
          "eight": 8}  # fmt: skip
PLACES = {"first": 0, "top": 0, "second": 1, "third": 2, "fourth": 3, "fifth": 4, "sixth": 5,
          "last": -1, "bottom": -1}  # fmt: skip
HELD = {"a single": "one", "single": "one", "one": "one", "a full-width": "one",
        **{name: name for name in COUNTS}}  # fmt: skip
_WORDS = {str(n): name for name, n in COUNTS.items()}
_TIERS = re.compile(r"(?P<count>[\w]+) tiers?", re.IGNORECASE)
_CLAUSE = re.compile(
    r"(?:and )?(?:with )?(?:the )?(?P<place>\w+)(?: (?:one|tier))?(?: is| has| of| with| holds)?"
    r" (?P<held>[\w -]+?)(?: panels?)?",
    re.IGNORECASE,
)


def spoken_grid(text: str) -> str:
    """The pattern that a sentence means, or the text itself where it is no such sentence.

    Examples
    --------
    >>> spoken_grid("three tiers, the last one a single panel")
    'any then any then one'
    >>> spoken_grid("2 tiers, first of three panels")
    'three then any'
    >>> spoken_grid("two then one")
    'two then one'
    """
    head, *clauses = [part.strip() for part in re.split(r"[,;]", text.strip().rstrip("."))]
    counted = _TIERS.fullmatch(head)
    count = COUNTS.get(_word(counted["count"]), 0) if counted else 0
    if not count:
        return text
    tiers = ["any"] * count
    for clause in clauses:
        found = _CLAUSE.fullmatch(clause)
        place = PLACES.get(found["place"].casefold()) if found else None
        held = HELD.get(_word(found["held"])) if found else None
        if place is None or held is None or place >= count:
            return text
        tiers[place] = held
    return " then ".join(tiers)


def _word(text: str) -> str:
    low = " ".join(text.casefold().split())
    return _WORDS.get(low, low)
