"""From the text of a written grid to its parts."""

from __future__ import annotations

from dataclasses import replace
from typing import NoReturn

from panelscan.errors import NotationError
from panelscan.layout.notation_words import EDGE_WORDS, REMEDY, Token, tokens_of
from panelscan.layout.written import (
    Cell,
    Inset,
    Joint,
    Loose,
    Part,
    Split,
    Wild,
    WrittenPage,
)
from panelscan.model.page import PageEdge, ReadingDirection

SETTINGS = ("right", "page", "margin", "gutter", "read", "fold")
MOST_DEPTH = 12
MOST_PANELS = 200


class Parser:
    """Reads one text; use `parse_written`.

    Parameters
    ----------
    text : str
        The written grid.
    pattern : bool
        Wildcards are allowed.
    """

    def __init__(self, text: str, pattern: bool) -> None:
        self.text = text
        self.pattern = pattern
        self.tokens = tokens_of(text)
        self.at = 0
        self.depth = 0
        self.panels = 0
        self.sized = False

    # -- small steps -----------------------------------------------------------------------

    @property
    def now(self) -> Token:
        """The token that is next."""
        return self.tokens[self.at]

    def fail(self, message: str, remedy: str = REMEDY, token: Token | None = None) -> NoReturn:
        """Raise an error that points at a token."""
        raise NotationError(self.text, (token or self.now).position, message, remedy)

    def take(self) -> Token:
        """Next token, stepping on."""
        token = self.now
        self.at += token.kind != "end"
        return token

    def takes(self, *texts: str) -> bool:
        """Step over the next token if it is one of these."""
        if self.now.kind != "number" and self.now.text in texts:
            self.at += 1
            return True
        return False

    def need(self, text: str, why: str) -> None:
        """Step over the next token, which must be this one."""
        if not self.takes(text):
            self.fail(f"Expected '{text}' {why}{self._instead()}.")

    def number(self, what: str, low: float = -1e4, high: float = 1e4) -> float:
        """A number that must come next."""
        token = self.now
        if token.kind != "number":
            self.fail(f"Expected a number for {what}{self._instead()}.")
        if not low <= float(token.text) <= high:
            self.fail(f"{token.text} will not do for {what}: between {low:g} and {high:g}.", "")
        self.at += 1
        return float(token.text)

    def _instead(self) -> str:
        return f", not '{self.now.text}'" if self.now.text else ", but the text ends"

    # -- whole page ------------------------------------------------------------------------

    def page(self) -> WrittenPage:
        """The whole text."""
        page = WrittenPage(Cell())
        read: tuple[int, ...] = ()
        start = self.now
        if self.now.text in SETTINGS:
            page, read = self._settings(page)
        body = self._tiers()
        if self.now.kind != "end":
            self.fail(f"Expected 'then', 'and', 'over' or the end, not '{self.now.text}'.")
        if read and sorted(read) != list(range(self.panels)):
            self.fail(f"'read' must name each of the {self.panels} panels once.", "", start)
        return replace(page, body=body, read=read, sized=self.sized)

    def _settings(self, page: WrittenPage) -> tuple[WrittenPage, tuple[int, ...]]:
        read: tuple[int, ...] = ()
        while True:
            token = self.take()
            if token.text == "right":
                self.need("to", "of 'right to left'")
                self.need("left", "of 'right to left'")
                page = replace(page, direction=ReadingDirection.RTL)
            elif token.text == "page":
                width = self.number("the page's width", 0.1)
                self.need("by", "between width and height")
                height = self.number("the page's height", 0.1)
                if not 0.01 <= width / height <= 100:
                    self.fail("No page is that much wider or higher than the other way.", "", token)
                page = replace(page, aspect=width / height)
            elif token.text == "margin":
                page = replace(page, margins=self._margins())
            elif token.text == "gutter":
                across = self.number("a gutter", -100, 100)
                down = self.number("a gutter", -100, 100) if self.now.kind == "number" else across
                page = replace(page, gutters=(across, down))
            elif token.text == "fold":
                page = replace(page, fold=self.number("the fold", 0, 100))
            elif token.text == "read":
                read = self._read()
            else:
                self.fail(f"Expected a setting ({', '.join(SETTINGS)}).", REMEDY, token)
            if not self.takes(","):
                self.need(";", "after the settings")
                return page, read

    def _margins(self) -> tuple[float, float, float, float]:
        values = [self.number("a margin", 0, 45)]
        while self.now.kind == "number" and len(values) < 4:
            values.append(self.number("a margin", 0, 100))
        if len(values) == 1:
            values *= 4
        elif len(values) == 2:
            values *= 2
        elif len(values) == 3:
            self.fail("A margin takes one, two or four numbers: left, top, right, bottom.")
        return values[0], values[1], values[2], values[3]

    def _read(self) -> tuple[int, ...]:
        order = []
        while self.now.kind == "number":
            order.append(int(self.number("a panel's number", 1, MOST_PANELS)) - 1)
        if not order:
            self.fail("Expected the panels' numbers after 'read'.")
        return tuple(order)

    # -- tiers, rows, stacks ---------------------------------------------------------------

    def _tiers(self) -> Part:
        parts, sizes, joints = [], [], []
        while True:
            size = 1.0
            if self.takes("tall"):
                size = self._size("height")
                self.need(":", "after a tier's height")
            parts.append(self._row())
            sizes.append(size)
            comma = self.takes(",")
            if not self.takes("then"):
                if comma:
                    self.fail(f"Expected 'then' after the comma{self._instead()}.")
                break
            joints.append(self._joint())
        return _split(True, parts, sizes, joints)

    def _row(self) -> Part:
        parts: list[Part] = []
        sizes: list[float] = []
        joints: list[Joint] = []
        while True:
            part, size = self._column()
            # "three" in a row is three columns of the same width
            more = part.parts if isinstance(part, Split) and size.repeated else (part,)
            joints += [Joint()] * (len(more) - 1)
            parts += more
            sizes += [size.value] * len(more)
            if not self.takes("and"):
                break
            joints.append(self._joint())
        return _split(False, parts, sizes, joints)

    def _column(self) -> tuple[Part, _Size]:
        start = self.now
        part, wide, tall = self._unit()
        if self.now.text != "over":
            if tall is not None:
                self.fail(
                    "A panel is as tall as its tier.",
                    "Write the height before the tier, as in 'tall 2: one and one'.",
                    start,
                )
            repeated = isinstance(part, Split) and not part.rows and start.count is not None
            return part, _Size(1.0 if wide is None else wide, repeated)
        parts, sizes, joints = [part], [tall or 1.0], []
        while True:
            if wide is not None:
                self.fail(
                    "A panel in a stack is as wide as the stack.",
                    "Put the stack in brackets, as in '(one over one) wide 2'.",
                    start,
                )
            if not self.takes("over"):
                break
            joints.append(self._joint())
            start = self.now
            part, wide, tall = self._unit()
            parts.append(part)
            sizes.append(tall or 1.0)
        return _split(True, parts, sizes, joints), _Size(1.0, False)

    def _joint(self) -> Joint:
        gap, slant = None, 0.0
        while True:
            if self.takes("gap"):
                gap = self.number("a gutter", -100, 100)
            elif self.takes("slant"):
                slant = self.number("a slant in degrees", -60, 60)
            else:
                return Joint(gap, slant)

    def _size(self, what: str) -> float:
        self.sized = True
        return self.number(what, 0.01)

    # -- one place -------------------------------------------------------------------------

    def _unit(self) -> tuple[Part, float | None, float | None]:
        part = self._place()
        wide = tall = None
        while True:
            if self.takes("wide"):
                wide = self._size("width")
            elif self.takes("tall"):
                tall = self._size("height")
            elif isinstance(part, Cell) and self.now.text in ("bleed", "round", "corners", "inset"):
                part = self._modified(part)
            elif self.now.text in ("bleed", "round", "corners", "inset"):
                self.fail(f"'{self.now.text}' goes with a single panel: write 'one' before it.")
            else:
                return part, wide, tall

    def _place(self) -> Part:
        token = self.now
        if self.takes("("):
            self.depth += 1
            if self.depth > MOST_DEPTH:
                self.fail("The brackets are nested too deeply.", "", token)
            part = self._row()
            self.need(")", "to close the bracket")
            self.depth -= 1
            return part
        if self.takes("loose"):
            return self._loose()
        if self.pattern and token.text in ("any", "some"):
            self.at += 1
            return Wild(1, 1 if token.text == "any" else MOST_PANELS)
        count = token.count
        if count is None:
            self.fail(f"Expected a number of panels ('one', 'two' …) or '('{self._instead()}.")
        self.at += 1
        counts = [count]
        while self.pattern and self.takes("or"):
            other = self.take().count
            if other is None:
                self.fail("Expected a number of panels after 'or'.")
            counts.append(other)
        if len(counts) > 1:
            return Wild(counts=tuple(counts))
        self._count(count, token)
        if count == 1:
            return Cell()
        return Split(False, (Cell(),) * count, (1.0,) * count, (Joint(),) * (count - 1))

    def _count(self, more: int, token: Token) -> None:
        self.panels += more
        if self.panels > MOST_PANELS:
            self.fail(f"A page has at most {MOST_PANELS} panels here.", "", token)

    def _modified(self, cell: Cell) -> Cell:
        token = self.take()
        if token.text == "bleed":
            return replace(cell, bleed=cell.bleed | self._edges())
        if token.text == "round":
            return replace(cell, round=True)
        if token.text == "corners":
            return replace(cell, corners=self._corners(token))
        return replace(cell, insets=(*cell.insets, self._inset(token)))

    def _edges(self) -> frozenset[PageEdge]:
        if self.takes("all"):
            return frozenset(PageEdge)
        edges = set()
        while self.now.text in EDGE_WORDS:
            edges.add(PageEdge(self.take().text))
        if not edges:
            self.fail("Expected 'all', 'left', 'top', 'right' or 'bottom' after 'bleed'.")
        return frozenset(edges)

    def _corners(self, token: Token) -> tuple[float, ...]:
        values = []
        while self.now.kind == "number":
            values.append(self.number("a corner", -1000, 1000))
        if len(values) < 6 or len(values) % 2:
            self.fail("Corners are at least three pairs of numbers, x before y.", "", token)
        return tuple(values)

    def _inset(self, token: Token) -> Inset:
        self._count(1, token)
        is_round = self.takes("round")
        start = self.now
        if self.takes("corners"):
            corners, is_box = self._corners(start), False
        else:
            x0, y0, x1, y1 = self._box()
            corners, is_box = (x0, y0, x1, y0, x1, y1, x0, y1), True
        insets: list[Inset] = []
        if self.takes("("):
            while self.now.text == "inset":
                insets.append(self._inset(self.take()))
            self.need(")", "after the insets of an inset")
        return Inset(corners, is_box, is_round, tuple(insets))

    def _box(self) -> tuple[float, float, float, float]:
        start = self.now
        x0, y0, x1, y1 = (self.number("a side in percent", -1000, 1000) for _ in range(4))
        if x1 <= x0 or y1 <= y0:
            self.fail("A box is left, top, right, bottom, in this order.", "", start)
        return x0, y0, x1, y1

    def _loose(self) -> Loose:
        self.need("(", "after 'loose'")
        cells, boxes = [], []
        while True:
            token = self.take()
            if token.count != 1:
                self.fail("Expected 'one at' and four numbers.", "", token)
            self._count(1, token)
            self.need("at", "after 'one'")
            boxes.append(self._box())
            cell = Cell()
            while self.now.text in ("bleed", "round", "corners", "inset"):
                cell = self._modified(cell)
            cells.append(cell)
            if not self.takes(","):
                self.need(")", "to close 'loose'")
                return Loose(tuple(cells), tuple(boxes))


class _Size:
    """A width, and whether it holds for each of several columns."""

    def __init__(self, value: float, repeated: bool) -> None:
        self.value = value
        self.repeated = repeated


def _split(rows: bool, parts: list[Part], sizes: list[float], joints: list[Joint]) -> Part:
    if len(parts) == 1:
        return parts[0]
    return Split(rows, tuple(parts), tuple(sizes), tuple(joints))


def parse_written(text: str, pattern: bool = False) -> WrittenPage:
    """Parts of a written grid.

    Parameters
    ----------
    text : str
        The written grid.
    pattern : bool
        Allow the wildcards ``any``, ``some`` and ``or``.

    Raises
    ------
    NotationError
        With the place of the character where reading stopped.
    """
    return Parser(text, pattern).page()
