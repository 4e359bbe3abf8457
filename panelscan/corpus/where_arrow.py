"""A filter's tree as an Arrow expression, after checking names and kinds."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus.schema import PAGES, PANELS
from panelscan.corpus.where import (
    AllOf,
    Among,
    Clause,
    Compare,
    EitherOf,
    Known,
    Name,
    Not,
    Truth,
    Value,
)
from panelscan.errors import NotationError

SHORT_NAMES = {
    "page": "page_number",
    "panels": "panel_count",
    "tiers": "tier_count",
    "path": "source_path",
    "side": "page_side",
}
NUMBER, TEXT, YES_NO, WORDS = "number", "text", "yes-no", "words"


def _kind(arrow: pa.DataType) -> str | None:
    if pa.types.is_boolean(arrow):
        return YES_NO
    if pa.types.is_integer(arrow) or pa.types.is_floating(arrow):
        return NUMBER
    if pa.types.is_string(arrow):
        return TEXT
    if pa.types.is_list(arrow) and pa.types.is_string(arrow.value_type):
        return WORDS
    return None


PAGE_KINDS = {c.name: k for c in PAGES if (k := _kind(c.kind))}
PANEL_KINDS = {c.name: k for c in PANELS if (k := _kind(c.kind))}
_BLEEDS = ("bleed_left", "bleed_top", "bleed_right", "bleed_bottom")


@dataclass(frozen=True)
class Filter:
    """A filter ready to run.

    Parameters
    ----------
    expression : pyarrow.compute.Expression
        Over columns of the pages table by their names, ``label:NAME`` for labels as text,
        ``label:NAME#`` for labels as numbers, and ``panel:NAME`` for panel columns.
    columns, labels, panel_columns : frozenset of str
        Names that it needs.
    """

    expression: Any
    columns: frozenset[str]
    labels: frozenset[str] = frozenset()
    panel_columns: frozenset[str] = frozenset()


@dataclass
class _Compiler:
    text: str
    labels: Collection[str]
    panels_allowed: bool
    columns: set[str] = field(default_factory=set)
    label_columns: set[str] = field(default_factory=set)
    panel_columns: set[str] = field(default_factory=set)

    def fail(self, position: int, message: str, remedy: str = "") -> NotationError:
        return NotationError(self.text, position, message, remedy)

    def clause(self, clause: Clause) -> Any:
        match clause:
            case AllOf(parts):
                return _folded(lambda a, b: a & b, [self.clause(p) for p in parts])
            case EitherOf(parts):
                return _folded(lambda a, b: a | b, [self.clause(p) for p in parts])
            case Not(part):
                return _opposite(self.clause(part))
            case Known(name):
                return pc.is_valid(self.pick(name)[0])
            case Truth(name):
                return self.truth(name)
            case Among(name, items):
                return _folded(lambda a, b: a | b, [self.between(name, *item) for item in items])
            case Compare(name, sign, value):
                return self.test(name, sign, value)

    def truth(self, name: Name) -> Any:
        if name.text == "bleed":
            own = [Name(b, name.position, name.of_panel) for b in _BLEEDS]
            return _folded(lambda a, b: a | b, [self.pick(n)[0] for n in own])
        column, kind = self.pick(name)
        if kind != YES_NO:
            raise self.fail(
                name.position + len(name.text),
                f"{name.text} is no yes-or-no column, so a test should follow.",
                f"For example: {name.text} = …",
            )
        return column

    def between(self, name: Name, low: Value, high: Value) -> Any:
        if low is high:
            return self.test(name, "=", low)
        return self.test(name, ">=", low) & self.test(name, "<=", high)

    def test(self, name: Name, sign: str, value: Value) -> Any:
        if sign == "!=":
            return _opposite(self.test(name, "=", value))
        if name.text == "bleed" and sign == "=":
            both = self.truth(name)
            return both if self.boolean(name, value) else _opposite(both)
        column, kind = self.pick(name, isinstance(value.content, float))
        if kind == WORDS:
            return self.words_test(name, column, sign, value)
        if sign in ("contains", "starts", "ends"):
            return self.text_test(name, column, kind, sign, value)
        return _compared(column, sign, self.operand(name, kind, value))

    def words_test(self, name: Name, column: Any, sign: str, value: Value) -> Any:
        if sign not in ("contains", "="):
            told = f"{name.text} is a list: ask whether it `contains` a word."
            raise self.fail(value.position, told)
        if not _as_text(value):
            raise self.fail(value.position, "Here a word is missing.")
        joined = pc.binary_join(column, "\n")
        exact = pc.utf8_lower(joined)
        wanted = _lower(_as_text(value))
        return pc.match_substring_regex(exact, rf"(?m)^{_quoted(wanted)}$")

    def text_test(self, name: Name, column: Any, kind: str, sign: str, value: Value) -> Any:
        if kind != TEXT:
            told = f"{name.text} is no text, so it cannot be searched for one."
            raise self.fail(value.position, told)
        match = {
            "contains": pc.match_substring,
            "starts": pc.starts_with,
            "ends": pc.ends_with,
        }[sign]
        return match(column, _as_text(value), ignore_case=True)

    def operand(self, name: Name, kind: str, value: Value) -> Any:
        if kind == YES_NO:
            return pc.scalar(self.boolean(name, value))
        if kind == TEXT:
            return pc.scalar(_as_text(value))
        if value.is_word:
            other, other_kind = self.pick(Name(str(value.content), value.position, name.of_panel))
            if other_kind == NUMBER:
                return other
        if not isinstance(value.content, float):
            raise self.fail(value.position, f"{name.text} is a number; compare it with one.")
        return pc.scalar(value.content)

    def boolean(self, name: Name, value: Value) -> bool:
        words = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}
        content = words.get(_as_text(value).lower())
        if content is None:
            told = f"{name.text} is yes or no; compare it with true or false."
            raise self.fail(value.position, told)
        return content

    def pick(self, name: Name, as_number: bool = False) -> tuple[Any, str]:
        """Column and kind of a name; ``as_number`` for a label that is compared with one."""
        if name.of_panel:
            return self.panel_column(name)
        column = SHORT_NAMES.get(name.text, name.text)
        if name.text in self.labels and not (as_number and column in PAGE_KINDS):
            full = f"{name.text}#" if as_number else name.text
            self.label_columns.add(full)
            told = pc.field(f"label:{full}")
            if PAGE_KINDS.get(column) == TEXT:
                self.columns.add(column)
                told = pc.coalesce(told, pc.field(column))
            return told, NUMBER if as_number else TEXT
        if column in PAGE_KINDS:
            self.columns.add(column)
            return pc.field(column), PAGE_KINDS[column]
        raise self.unknown(name, {*PAGE_KINDS, *SHORT_NAMES, *self.labels})

    def panel_column(self, name: Name) -> tuple[Any, str]:
        if not self.panels_allowed:
            raise self.fail(name.position, "Here pages are chosen, not panels.")
        if name.text not in PANEL_KINDS:
            raise self.unknown(name, PANEL_KINDS)
        self.panel_columns.add(name.text)
        return pc.field(f"panel:{name.text}"), PANEL_KINDS[name.text]

    def unknown(self, name: Name, known: Collection[str]) -> NotationError:
        near = difflib.get_close_matches(name.text, sorted(known), n=3)
        remedy = (
            f"Did you mean {' or '.join(near)}?"
            if near
            else (
                "Columns are listed in the developers' guide; "
                "labels by `panelscan tag --library FOLDER`."
            )
        )
        return self.fail(name.position, f"There is no column or label {name.text!r}.", remedy)


def compile_where(
    clause: Clause, text: str, labels: Collection[str] = (), *, panels_allowed: bool = False
) -> Filter:
    """Expression of a filter.

    Parameters
    ----------
    clause : Clause
        From `panelscan.corpus.where.parse_where`.
    text : str
        The filter's text, for messages.
    labels : collection of str
        Names of labels in use; a label hides a column of the same name.
    panels_allowed : bool
        Whether ``panel.`` names make sense.

    Raises
    ------
    NotationError
        If a name is unknown or is compared with the wrong kind of value.
    """
    compiler = _Compiler(text, labels, panels_allowed)
    expression = compiler.clause(clause)
    return Filter(
        expression,
        frozenset(compiler.columns),
        frozenset(compiler.label_columns),
        frozenset(compiler.panel_columns),
    )


def _opposite(expression: Any) -> Any:
    """What the expression does not hold for, the unknown included."""
    return ~pc.coalesce(expression, pc.scalar(False))


def _folded(join: Callable[[Any, Any], Any], parts: list[Any]) -> Any:
    result = parts[0]
    for part in parts[1:]:
        result = join(result, part)
    return result


def _compared(column: Any, sign: str, value: Any) -> Any:
    compare: Mapping[str, Callable[[], Any]] = {
        "=": lambda: column == value,
        "<": lambda: column < value,
        "<=": lambda: column <= value,
        ">": lambda: column > value,
        ">=": lambda: column >= value,
    }
    return compare[sign]()


def _as_text(value: Value) -> str:
    content = value.content
    if isinstance(content, bool):
        return "true" if content else "false"
    if isinstance(content, float):
        return str(int(content)) if content.is_integer() else str(content)
    return content


def _lower(text: str) -> str:
    """Lower case as Arrow makes it, so that both sides of a comparison agree."""
    return str(pc.utf8_lower(pa.scalar(text, pa.string())).as_py())


def _quoted(text: str) -> str:
    """A text as a pattern that fits only itself, for RE2."""
    return "".join(c if c.isalnum() or c == " " else f"\\x{{{ord(c):x}}}" for c in text)
