"""Cards laid out on one sheet as plain marks, which SVG and PNG draw alike."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from panelscan.finder.cards import Card, CardSheet
from panelscan.finder.colours import GIVE, INK, PAGE, QUIET

Point = tuple[float, float]
MARGIN, GAP = 28.0, 26.0
PAGE_HEIGHT = 190.0
CARD_WIDTH = 300.0
COLUMNS = 4
LEAST_COLUMNS = 2  # for the heading
LINE = 15.0
SIZE = 12.0
CHARACTERS = 46  # of SIZE that fit a card's width


@dataclass(frozen=True)
class Shape:
    """A filled polygon."""

    points: tuple[Point, ...]
    fill: str
    stroke: str = INK
    width: float = 1.3


@dataclass(frozen=True)
class Words:
    """A line of text; ``middle`` centres it on x, and y is its baseline."""

    x: float
    y: float
    text: str
    size: float = SIZE
    fill: str = INK
    bold: bool = False
    middle: bool = False


@dataclass(frozen=True)
class Image:
    """A picture fitted into a box."""

    x: float
    y: float
    width: float
    height: float
    data: bytes
    description: str


Mark = Shape | Words | Image


@dataclass(frozen=True)
class Marks:
    """A sheet of marks, in pixels, y down."""

    width: float
    height: float
    marks: tuple[Mark, ...]
    title: str
    description: str


def marks_of(sheet: CardSheet, columns: int = COLUMNS) -> Marks:
    """Lay the cards of a sheet out in rows, on no more columns than there are cards."""
    columns = min(columns, max(LEAST_COLUMNS, len(sheet.cards)))
    width = 2 * MARGIN + columns * CARD_WIDTH + (columns - 1) * GAP
    marks: list[Mark] = [Words(MARGIN, MARGIN + 12, sheet.heading, 18, bold=True)]
    y = MARGIN + 36
    for remark in sheet.remarks:
        for line in textwrap.wrap(remark, int(columns * CHARACTERS)):
            marks.append(Words(MARGIN, y, line, fill=QUIET))
            y += LINE
    y += 8
    for row in _rows(sheet.cards, columns):
        drawn = [_card(card, _left(column), y) for column, card in row]
        tallest = max(height for _, height in drawn)
        for column, card in row:
            if card.joins_next:
                marks.append(_spread(_left(column), y, tallest))
        for card_marks, _ in drawn:
            marks += card_marks
        y += tallest + GAP
    title = sheet.heading or "Contact sheet"
    told = " ".join(card.description for card in sheet.cards)
    return Marks(width, y + MARGIN - GAP, tuple(marks), title, told)


def _rows(cards: tuple[Card, ...], columns: int) -> list[list[tuple[int, Card]]]:
    """Cards in rows with their columns; facing pages stay in one row."""
    rows: list[list[tuple[int, Card]]] = [[]]
    for k, card in enumerate(cards):
        column = rows[-1][-1][0] + 1 if rows[-1] else 0
        needed = 2 if card.joins_next and columns > 1 else 1
        faces = k > 0 and cards[k - 1].joins_next
        if column + needed > columns and not (faces and column < columns):
            rows.append([])
            column = 0
        rows[-1].append((column, card))
    return [row for row in rows if row]


def _left(column: int) -> float:
    return MARGIN + column * (CARD_WIDTH + GAP)


def _spread(x: float, y: float, height: float) -> Shape:
    """What lies behind two facing pages and holds them together."""
    x0, x1 = x - GAP / 2, x + 2 * CARD_WIDTH + 1.5 * GAP
    y0, y1 = y - 8, y + height - 4
    return Shape(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), PAGE, PAGE)


def _card(card: Card, x: float, y: float) -> tuple[list[Mark], float]:
    """Marks of a card, and its height."""
    marks: list[Mark] = [Words(x, y + 12, _short(card.title), 14, bold=True)]
    top = y + 20
    if card.under:
        marks.append(Words(x, top + 12, _short(card.under), fill=QUIET))
    top += 22
    width = min(PAGE_HEIGHT * card.aspect, CARD_WIDTH if card.picture is None else CARD_WIDTH / 2)
    height = width / card.aspect
    marks += page_marks(card, x, top, width)
    if card.picture is not None:
        marks.append(
            Image(
                x + width + 10,
                top,
                CARD_WIDTH - width - 10,
                height,
                card.picture,
                f"Picture of the page: {card.title}",
            )
        )
    bottom = top + height + 18
    for label, color, text in card.legend:
        box = ((x, bottom - 10), (x + 22, bottom - 10), (x + 22, bottom + 2), (x, bottom + 2))
        marks.append(Shape(box, color, width=0.8))
        marks.append(Words(x + 11, bottom, label, 10, bold=True, middle=True))
        lines = textwrap.wrap(text, CHARACTERS - 5) or [""]
        marks += [Words(x + 28, bottom + k * LINE, line) for k, line in enumerate(lines)]
        bottom += LINE * len(lines) + 2
    if card.legend:
        bottom += 4
    for sentences, fill, sign in ((card.reasons, QUIET, ""), (card.gives, GIVE, "Gives: ")):
        for sentence in sentences:
            for line in textwrap.wrap(sign + sentence, CHARACTERS):
                marks.append(Words(x, bottom, line, fill=fill))
                bottom += LINE
    return marks, bottom - y


def _short(text: str) -> str:
    return text if len(text) <= CHARACTERS else text[: CHARACTERS - 1] + "…"


def page_marks(card: Card, x: float, y: float, width: float) -> list[Mark]:
    """The page and its panels, `width` wide."""
    height = width / card.aspect
    page = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
    marks: list[Mark] = [Shape(page, PAGE, QUIET, 0.8)]
    for panel in card.panels:
        points = tuple(
            (x + min(max(px, 0.0), 1.0) * width, y + min(max(py, 0.0), 1.0) * height)
            for px, py in panel.points
        )
        marks.append(Shape(points, panel.fill))
    for panel in card.panels:
        cx, cy, size = _label_place(panel.points, width, height)
        marks.append(Words(x + cx, y + cy + size * 0.36, panel.label, size, bold=True, middle=True))
    return marks


def _label_place(
    points: tuple[Point, ...], width: float, height: float
) -> tuple[float, float, float]:
    """Middle of a panel and a letter size that fits it."""
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    cx, cy = (min(xs) + max(xs)) / 2 * width, (min(ys) + max(ys)) / 2 * height
    room = min((max(xs) - min(xs)) * width, (max(ys) - min(ys)) * height)
    return cx, cy, max(7.0, min(15.0, room * 0.5))
