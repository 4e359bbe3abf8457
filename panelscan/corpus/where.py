"""The small language of ``--where``: which pages are meant.

::

    choice     = both { "or" both }
    both       = single { "and" single }
    single     = "not" single | "(" choice ")" | name [ test ]
    test       = ("=" | "!=" | "<" | "<=" | ">" | ">=") value
               | [ "not" ] "in" "(" item { "," item } ")"
               | ("contains" | "starts" | "ends") value
               | "is" ("known" | "unknown")
    item       = value [ ".." value ]
    value      = number | date | "text" | 'text' | word | "true" | "false"
    name       = word | "[" any text "]" | "panel." word

Examples: ``stage = inks and panels >= 6``, ``page in (3..9, 14)``,
``patterns contains splash and not bleed``, ``[mood] = "calm before"``.

A name is a column of the pages table, a label, or (where panels are chosen) ``panel.`` and
a column of the panels table. A word after a test is text, or the name of a column where
numbers are compared. ``contains``, ``starts`` and ``ends`` overlook upper and lower case.
What is unknown fits no test, so ``not stage = rough`` and ``stage != rough`` take in pages
without a stage.

The text is parsed into a tree of the classes below and never handed to any other
interpreter, so nothing in it can do more than choose pages.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from panelscan.errors import NotationError

LONGEST = 10_000
DEEPEST = 60


@dataclass(frozen=True, slots=True)
class Name:
    """A column or label, and where it stands in the text."""

    text: str
    position: int
    of_panel: bool = False


@dataclass(frozen=True, slots=True)
class Value:
    """A number, a text or a truth value; ``is_word`` for a text without quotes."""

    content: float | str | bool
    position: int
    is_word: bool = False


@dataclass(frozen=True, slots=True)
class Compare:
    """A name compared with a value; ``sign`` is one of ``= != < <= > >= contains starts ends``."""

    name: Name
    sign: str
    value: Value


@dataclass(frozen=True, slots=True)
class Among:
    """A name whose value is one of several, or between two."""

    name: Name
    items: tuple[tuple[Value, Value], ...]


@dataclass(frozen=True, slots=True)
class Known:
    """Whether a name has a value."""

    name: Name


@dataclass(frozen=True, slots=True)
class Truth:
    """A yes-or-no column by itself."""

    name: Name


@dataclass(frozen=True, slots=True)
class Not:
    """The opposite."""

    part: Clause


@dataclass(frozen=True, slots=True)
class AllOf:
    """Every part holds."""

    parts: tuple[Clause, ...]


@dataclass(frozen=True, slots=True)
class EitherOf:
    """At least one part holds."""

    parts: tuple[Clause, ...]


Clause = Compare | Among | Known | Truth | Not | AllOf | EitherOf

_TOKEN = re.compile(
    r"""\s*(?:
      (?P<date>\d{4}-\d\d(?:-\d\d)?(?![\w.]))
    | (?P<number>-?(?:\d+(?:\.(?!\.)\d*)?|\.\d+)(?:[eE][+-]?\d+)?)
    | "(?P<double>[^"]*)"
    | '(?P<single>[^']*)'
    | \[(?P<bracket>[^\]]+)\]
    | (?P<word>[^\W\d][\w]*(?:-[\w]+)*(?:\.[^\W\d]\w*)?)
    | (?P<sign>\.\.|<=|>=|!=|==|=|<|>|\(|\)|,)
    )""",
    re.VERBOSE,
)
_KEYWORDS = {"and", "or", "not", "in", "contains", "starts", "ends", "is"}
_SIGNS = {"=", "==", "!=", "<", "<=", ">", ">="}


@dataclass(frozen=True, slots=True)
class _Token:
    kind: str
    text: str
    position: int


def parse_where(text: str) -> Clause:
    """Tree of a filter.

    Parameters
    ----------
    text : str
        As in the module's text.

    Raises
    ------
    NotationError
        If it cannot be understood; says where.

    Examples
    --------
    >>> parse_where("panels >= 6")
    Compare(name=Name(text='panels', position=0, of_panel=False), sign='>=', value=Value(content=6.0, position=10, is_word=False))
    """  # noqa: E501
    if len(text) > LONGEST:
        raise NotationError(text[:60] + " …", 0, "The filter is too long.")
    parser = _Parser(text, _tokens(text))
    clause = parser.choice(0)
    parser.expect_end()
    return clause


def _tokens(text: str) -> list[_Token]:
    tokens = []
    at = 0
    while at < len(text.rstrip()):
        match = _TOKEN.match(text, at)
        if match is None:
            start = at + len(text[at:]) - len(text[at:].lstrip())
            raise NotationError(text, start, f"{text[start]!r} means nothing in a filter here.")
        kind = str(match.lastgroup)
        found = match.group(kind)
        start = match.start(kind) - (kind in ("double", "single", "bracket"))
        if kind == "word" and found.lower() in _KEYWORDS:
            kind, found = "keyword", found.lower()
        tokens.append(_Token(kind, found, start))
        at = match.end()
    tokens.append(_Token("end", "", len(text)))
    return tokens


class _Parser:
    """Recursive descent over the tokens; one method a rule of the grammar."""

    def __init__(self, text: str, tokens: list[_Token]) -> None:
        self.text = text
        self.tokens = tokens
        self.at = 0

    @property
    def next(self) -> _Token:
        return self.tokens[self.at]

    def take(self) -> _Token:
        token = self.next
        self.at += token.kind != "end"
        return token

    def took(self, kind: str, *texts: str) -> bool:
        if self.next.kind == kind and self.next.text in texts:
            self.take()
            return True
        return False

    def fail(self, message: str, remedy: str = "") -> NotationError:
        return NotationError(self.text, self.next.position, message, remedy)

    def expect(self, sign: str) -> None:
        if not self.took("sign", sign):
            raise self.fail(f"Here a {sign!r} is missing.")

    def expect_end(self) -> None:
        if self.next.kind != "end":
            raise self.fail("The filter should end here.", "Join tests with `and` or `or`.")

    def choice(self, depth: int) -> Clause:
        if depth > DEEPEST:
            raise self.fail("The filter is nested too deeply.")
        parts = [self.both(depth)]
        while self.took("keyword", "or"):
            parts.append(self.both(depth))
        return parts[0] if len(parts) == 1 else EitherOf(tuple(parts))

    def both(self, depth: int) -> Clause:
        parts = [self.single(depth)]
        while self.took("keyword", "and"):
            parts.append(self.single(depth))
        return parts[0] if len(parts) == 1 else AllOf(tuple(parts))

    def single(self, depth: int) -> Clause:
        if depth > DEEPEST:
            raise self.fail("The filter is nested too deeply.")
        if self.took("keyword", "not"):
            return Not(self.single(depth + 1))
        if self.took("sign", "("):
            inner = self.choice(depth + 1)
            self.expect(")")
            return inner
        return self.test(self.name())

    def name(self) -> Name:
        token = self.next
        if token.kind not in ("word", "bracket"):
            raise self.fail(
                "Here the name of a column or label should stand.",
                'For example: panels >= 6, stage = inks, book = "Salt".',
            )
        self.take()
        if token.kind == "word" and token.text.startswith("panel."):
            return Name(token.text.removeprefix("panel."), token.position, of_panel=True)
        return Name(token.text, token.position)

    def test(self, name: Name) -> Clause:
        token = self.next
        if token.kind == "sign" and token.text in _SIGNS:
            self.take()
            return Compare(name, "=" if token.text == "==" else token.text, self.value())
        if self.took("keyword", "contains"):
            return Compare(name, "contains", self.value())
        if self.took("keyword", "starts"):
            return Compare(name, "starts", self.value())
        if self.took("keyword", "ends"):
            return Compare(name, "ends", self.value())
        if self.took("keyword", "in"):
            return self.among(name)
        if self.took("keyword", "is"):
            return self.known(name)
        if self.next.kind == "keyword" and self.next.text == "not":
            self.take()
            if not self.took("keyword", "in"):
                raise self.fail("After `not`, `in` is missing.")
            return Not(self.among(name))
        return Truth(name)

    def among(self, name: Name) -> Among:
        self.expect("(")
        items = [self.item()]
        while self.took("sign", ","):
            items.append(self.item())
        self.expect(")")
        return Among(name, tuple(items))

    def item(self) -> tuple[Value, Value]:
        low = self.value()
        return (low, self.value()) if self.took("sign", "..") else (low, low)

    def known(self, name: Name) -> Clause:
        word = self.next
        if word.kind == "word" and word.text in ("known", "unknown"):
            self.take()
            return Known(name) if word.text == "known" else Not(Known(name))
        raise self.fail("After `is`, write `known` or `unknown`.")

    def value(self) -> Value:
        token = self.next
        if token.kind in ("end", "sign", "keyword", "bracket"):
            raise self.fail("Here a number, a word or a text in quotes should stand.")
        self.take()
        if token.kind == "number":
            return Value(float(token.text), token.position)
        if token.kind == "word":
            if token.text.lower() in ("true", "false"):
                return Value(token.text.lower() == "true", token.position)
            return Value(token.text, token.position, is_word=True)
        return Value(token.text, token.position)
