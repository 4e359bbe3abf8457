"""From the parts of a written grid to its text."""

from __future__ import annotations

from collections.abc import Sequence

from panelscan.layout.notation_words import COUNTS, EDGE_WORDS
from panelscan.layout.written import (
    DEFAULT_ASPECT,
    DEFAULT_GUTTERS,
    DEFAULT_MARGINS,
    Cell,
    Inset,
    Joint,
    Loose,
    Part,
    Split,
    Wild,
    WrittenPage,
)
from panelscan.model.page import ReadingDirection


def text_of(page: WrittenPage) -> str:
    """Text of a written page; settings that are usual are left out."""
    settings = _settings(page)
    body = _tiers(page.body)
    return f"{', '.join(settings)}; {body}" if settings else body


def figure(value: float) -> str:
    """A number with as few digits as it needs, at most two after the point.

    Examples
    --------
    >>> figure(2.0), figure(33.333), figure(-0.001)
    ('2', '33.33', '0')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _settings(page: WrittenPage) -> list[str]:
    found = []
    if page.direction is ReadingDirection.RTL:
        found.append("right to left")
    if abs(page.aspect - DEFAULT_ASPECT) > 1e-6:
        found.append(f"page {figure(page.aspect * 100)} by 100")
    if page.margins != DEFAULT_MARGINS:
        left, top, right, bottom = page.margins
        if left == right and top == bottom:
            values = [left] if left == top else [left, top]
        else:
            values = list(page.margins)
        found.append("margin " + " ".join(figure(v) for v in values))
    if page.gutters != DEFAULT_GUTTERS:
        across, down = page.gutters
        values = [across] if across == down else [across, down]
        found.append("gutter " + " ".join(figure(v) for v in values))
    if page.fold is not None:
        found.append(f"fold {figure(page.fold)}")
    if page.read:
        found.append("read " + " ".join(str(k + 1) for k in page.read))
    return found


def _tiers(part: Part) -> str:
    if not (isinstance(part, Split) and part.rows):
        return _row(part)
    even = _even(part.sizes)
    texts = [
        ("" if even else f"tall {figure(size)}: ") + _row(child)
        for child, size in zip(part.parts, part.sizes, strict=True)
    ]
    return _joined("then", texts, part.joints)


def _row(part: Part) -> str:
    if not (isinstance(part, Split) and not part.rows):
        return _column(part, None)
    even = _even(part.sizes)
    texts: list[str] = []
    joints: list[Joint] = []
    start = 0
    while start < len(part.parts):
        end = start + 1
        while _runs_on(part, start, end):
            end += 1
        size = None if even else part.sizes[start]
        if end - start > 1:
            wide = "" if size is None else f" wide {figure(size)}"
            texts.append(COUNTS[end - start - 1] + wide)
        else:
            texts.append(_column(part.parts[start], size))
        if end < len(part.parts):
            joints.append(part.joints[end - 1])
        start = end
    return _joined("and", texts, joints)


def _runs_on(split: Split, start: int, end: int) -> bool:
    """Whether the part at ``end`` is one more plain panel like the one at ``start``."""
    return (
        end < len(split.parts)
        and end - start < len(COUNTS)
        and split.parts[start] == split.parts[end] == Cell()
        and split.sizes[start] == split.sizes[end]
        and split.joints[end - 1] == Joint()
    )


def _column(part: Part, wide: float | None) -> str:
    if isinstance(part, Split) and part.rows:
        text = _stack(part) if wide is None else f"({_stack(part)})"
    else:
        text = _unit(part)
    return text if wide is None else f"{text} wide {figure(wide)}"


def _stack(part: Split) -> str:
    even = _even(part.sizes)
    texts = [
        _unit(child) + ("" if even else f" tall {figure(size)}")
        for child, size in zip(part.parts, part.sizes, strict=True)
    ]
    return _joined("over", texts, part.joints)


def _unit(part: Part) -> str:
    if isinstance(part, Cell):
        return "one" + _modifiers(part)
    if isinstance(part, Loose):
        inner = ", ".join(
            "one at " + " ".join(figure(v) for v in box) + _modifiers(cell)
            for cell, box in zip(part.cells, part.boxes, strict=True)
        )
        return f"loose ({inner})"
    if isinstance(part, Wild):
        if part.counts:
            return " or ".join(COUNTS[c - 1] if c <= len(COUNTS) else str(c) for c in part.counts)
        return "any" if part.most == 1 else "some"
    text = _row(part)
    return text if text in COUNTS else f"({text})"


def _modifiers(cell: Cell) -> str:
    text = ""
    if cell.bleed:
        words = [w for w in EDGE_WORDS if w in {e.value for e in cell.bleed}]
        text += " bleed " + ("all" if len(words) == len(EDGE_WORDS) else " ".join(words))
    if cell.round:
        text += " round"
    if cell.corners is not None:
        text += " corners " + " ".join(figure(v) for v in cell.corners)
    return text + "".join(_inset(inset) for inset in cell.insets)


def _inset(inset: Inset) -> str:
    text = " inset" + (" round" if inset.round else "")
    values: Sequence[float] = inset.corners
    if inset.is_box:
        values = (*inset.corners[:2], *inset.corners[4:6])
    else:
        text += " corners"
    text += "".join(f" {figure(v)}" for v in values)
    if inset.insets:
        text += " (" + "".join(_inset(i) for i in inset.insets).strip() + ")"
    return text


def _joined(word: str, texts: Sequence[str], joints: Sequence[Joint]) -> str:
    result = texts[0]
    for joint, text in zip(joints, texts[1:], strict=True):
        result += f" {word}"
        if joint.gap is not None:
            result += f" gap {figure(joint.gap)}"
        if joint.slant_deg:
            result += f" slant {figure(joint.slant_deg)}"
        result += f" {text}"
    return result


def _even(sizes: Sequence[float]) -> bool:
    return len(set(sizes)) == 1
