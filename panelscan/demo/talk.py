"""Where balloons, captions and sound effects go on a drawn page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely

from panelscan.demo.alphabet import CAP_HEIGHT, text_width
from panelscan.demo.drawing import DrawnPanel
from panelscan.demo.lettering import (
    balloon_shape,
    draw_balloon,
    draw_effect,
    draw_text,
    set_text,
    tail_shape,
)
from panelscan.demo.look import Look
from panelscan.demo.raster import RGB
from panelscan.demo.story import CAPTIONS, EFFECTS, LINES, SHOUTS
from panelscan.demo.truth import lenient_outline
from panelscan.model.outline import Outline

LOWER_SHARE, LOWER = 0.35, 0.1
"""Share of answers that hang lower than what they answer, and by how much of the panel's height
(so that about four panels in five are lettered in reading order, as on the annotated real pages
that the detector is scored on)."""
CAP_PX = 15.0
"""Cap height on a page 2,000 px high; about 2 mm on a page 260 mm high."""


def letter_page(
    page: np.ndarray, drawn: Sequence[DrawnPanel], look: Look, unit: float,
    rng: np.random.Generator,
) -> tuple[Outline, ...]:  # fmt: skip
    """Letter a page by chance (in place); returns the balloons and captions."""
    shapes: list[Outline] = []
    lines = iter(rng.permutation(LINES).tolist() * 3)
    for panel in drawn:
        x0, y0, x1, y1 = panel.plan.box
        big = (x1 - x0) * (y1 - y0) > (190 * unit) ** 2
        # Where a panel lies over another, its lettering stays out of the way.
        boxes: list[Outline] = []
        if panel.plan.border == "none" and big and rng.random() < 0.07:
            boxes = _head_text(page, panel, look, unit, rng)
        elif rng.random() < 0.22 and big:
            boxes = caption(page, panel, str(rng.choice(CAPTIONS)), look, unit, rng)
        if big and rng.random() < look.talk:
            boxes += _talk(page, panel, lines, look, unit, rng, boxes)
        shapes += boxes
        if big and rng.random() < look.effects:
            _effect(page, panel, look, unit, rng)
    return tuple(shapes)


def letter_script(
    page: np.ndarray, drawn: Sequence[DrawnPanel], look: Look, unit: float,
    rng: np.random.Generator,
) -> tuple[Outline, ...]:  # fmt: skip
    """Letter a page as its script says (in place); returns the balloons and captions."""
    shapes: list[Outline] = []
    plain = replace(look, spill=0.0)
    for panel in drawn:
        shot = panel.plan.shot
        if shot is None:
            continue
        x0, _, x1, _ = panel.plan.box
        if shot.effect:
            _effect(page, panel, look, unit, rng, shot.effect)
        boxes: list[Outline] = []
        if shot.title:
            _title(page, panel, shot.title, look, rng)
        if shot.caption:
            boxes = caption(page, panel, shot.caption, look, unit, rng, "tl")
        count = len(shot.lines)
        for k, (speaker, text) in enumerate(shot.lines):
            head = None
            if speaker in shot.who:
                head = panel.heads[shot.who.index(speaker)]
            x = x0 + (x1 - x0) * (k + 0.5) / count
            widest = (x1 - x0) * (0.78 if count == 1 else 0.94 / count)
            top = _top_side(panel, x, widest * 0.3, boxes)
            made = balloon(page, text, (x, top), panel, head, plain, unit, rng, widest)
            if made is not None:
                boxes.append(made)
        shapes += boxes
    return tuple(shapes)


def _talk(
    page: np.ndarray, panel: DrawnPanel, lines: Iterator[str], look: Look, unit: float,
    rng: np.random.Generator, taken: Sequence[Outline],
) -> list[Outline]:  # fmt: skip
    x0, y0, x1, y1 = panel.plan.box
    count = 1 if (x1 - x0) < 330 * unit or rng.random() < 0.5 else 2
    found: list[Outline] = []
    for k in range(count):
        text = str(rng.choice(SHOUTS)) if rng.random() < 0.12 else next(lines)
        head = panel.heads[k % len(panel.heads)] if panel.heads else None
        share = float((k + 0.5) / count + rng.normal() * 0.06)
        x = x0 + (x1 - x0) * (1 - share if look.rtl else share)
        widest = (x1 - x0) * (0.72 if count == 1 else 0.42)
        top = _top_side(panel, x, widest * 0.3, taken)
        if look.rtl and k and rng.random() < LOWER_SHARE:
            top += LOWER * (y1 - y0)  # the answer hangs lower, so that nobody reads it first
        made = balloon(page, text, (x, top), panel, head, look, unit, rng, widest)
        if made is not None:
            found.append(made)
    return found


def _top_side(panel: DrawnPanel, x: float, reach: float, taken: Sequence[Outline]) -> float:
    """Where a balloon about ``x`` may hang from: the panel's top side, or a caption's foot."""
    _, y0, _, y1 = panel.plan.box
    tops = []
    for at in (x - reach, x, x + reach):
        column = shapely.LineString([(at, y0 - 1), (at, y1 + 1)]).intersection(panel.plan.shape)
        if not column.is_empty:
            tops.append(column.bounds[1])
    top = max(tops, default=y0)
    for box in taken:
        bx0, by0, bx1, by1 = box.bounds
        if bx0 < x + reach and bx1 > x - reach and by0 < top + 0.2 * (y1 - y0) and by1 > top:
            top = by1
    return top


def balloon(
    page: np.ndarray, text: str, at: tuple[float, float], panel: DrawnPanel,
    head: tuple[float, float, float] | None, look: Look, unit: float, rng: np.random.Generator,
    widest: float, kind: str = "",
) -> Outline | None:  # fmt: skip
    """Draw one balloon; ``at`` is its middle along x and the top side it hangs from.

    Returns None where the panel has no room for it.
    """
    x0, y0, x1, y1 = panel.plan.box
    hand = look.hand
    cap = CAP_PX * look.lettering * unit * rng.uniform(0.96, 1.04)
    block = set_text(text, cap, max(widest - 2.4 * cap, cap * 8), hand)
    if block.height_px > (y1 - y0) * 0.42 or block.width_px > (x1 - x0) * 0.9:
        return None
    shout = text.endswith("!") and len(text) < 14
    kind = kind or ("burst" if shout else "cloud" if rng.random() < 0.07 else hand.balloon)
    half_w, half_h = block.width_px / 2 + cap * 1.5, block.height_px / 2 + cap * 1.7
    if rng.random() < look.spill:  # into the gutter
        low, high = 0.02 * page.shape[1] + half_w, 0.98 * page.shape[1] - half_w
        x = float(np.clip(at[0] + rng.normal() * half_w * 0.5, low, high))
        y = max(at[1] + half_h * rng.uniform(-0.1, 0.7), half_h + 2)
    else:
        low, high = x0 + half_w, x1 - half_w
        x = float(np.clip(at[0], low, high)) if high > low else (x0 + x1) / 2
        y = at[1] + half_h + cap * rng.uniform(0.0, 1.2)
    body = balloon_shape(block, x, y, kind, rng)
    shapes = [body]
    if head is not None and kind not in ("cloud", "box"):
        hx, hy, r = head
        end = (x + (hx - x) * 0.78, min(y + (hy - r - y) * 0.72, y1 - 4))
        if end[1] > y + half_h * 0.5 or abs(end[0] - x) > half_w:
            shapes.append(tail_shape(body, end, cap * 1.6, rng))
    line = min(hand.balloon_line, 1.0 if look.style == "painted" else 9.0) * unit
    drawn = draw_balloon(page, shapes, line)
    if kind == "cloud" and head is not None:
        for t in (0.45, 0.62, 0.76):
            down = y + half_h * 0.8 + (head[1] - head[2] - y - half_h) * t
            dot = balloon_dot(x + (head[0] - x) * t, down, cap * (0.9 - t * 0.7))
            draw_balloon(page, [dot], line)
    draw_text(page, block, x, y, hand, rng)
    return lenient_outline(np.asarray(drawn.exterior.coords))


def balloon_dot(x: float, y: float, r: float) -> np.ndarray:
    """A small round shape between a thought and its thinker."""
    t = np.linspace(0, 2 * np.pi, 14, endpoint=False)
    return np.stack([x + r * np.cos(t), y + r * 0.8 * np.sin(t)], 1)


def caption(
    page: np.ndarray, panel: DrawnPanel, text: str, look: Look, unit: float,
    rng: np.random.Generator, corner: str = "",
) -> list[Outline]:  # fmt: skip
    """Draw a caption box at a corner of a panel, tight in it or floating.

    ``corner`` is ``"tl"``, ``"tr"`` or ``"br"``, left and right changed in a book read right
    to left (common practice, no source).
    """
    x0, y0, x1, y1 = panel.plan.box
    cap = CAP_PX * look.lettering * unit * 0.95
    block = set_text(text, cap, (x1 - x0) * 0.6, look.hand)
    w, h = block.width_px + cap * 2.2, block.height_px + cap * 1.9
    if w > (x1 - x0) * 0.9 or h > (y1 - y0) * 0.35:
        return []
    gap = 0.0 if rng.random() < 0.5 else rng.uniform(4, 12) * unit
    corner = corner or str(rng.choice(["tl", "tr", "br"], p=[0.65, 0.1, 0.25]))
    at_left = ("l" in corner) != look.rtl
    x = x0 + gap + w / 2 if at_left else x1 - gap - w / 2
    y = y0 + gap + h / 2 if "t" in corner else y1 - gap - h / 2
    box = shapely.box(x - w / 2, y - h / 2, x + w / 2, y + h / 2)
    if panel.plan.kind == "polygon" and not panel.plan.shape.buffer(3 * unit).contains(box):
        return []
    fills: list[RGB] = [(255, 255, 255), (252, 244, 208), (20, 20, 22)]
    if look.style in ("ink", "onebit", "screentone", "pencil"):
        fills[1] = (255, 255, 255)
    fill = fills[int(rng.choice(3, p=[0.5, 0.4, 0.1]))]
    shape = np.asarray(box.exterior.coords)[:-1]
    line = max(look.hand.balloon_line, 1.6 if rng.random() < 0.7 else 0.0) * unit
    draw_balloon(page, [shape], line, fill)
    draw_text(page, block, x, y, look.hand, rng, (244, 244, 240) if fill[0] < 90 else (20, 20, 22))
    return [lenient_outline(shape)]


def _head_text(
    page: np.ndarray, panel: DrawnPanel, look: Look, unit: float, rng: np.random.Generator
) -> list[Outline]:
    """Narration on white without an outline that hides the head of a borderless panel."""
    x0, y0, x1, y1 = panel.plan.box
    text = f"{rng.choice(LINES)} {rng.choice(LINES)}"
    cap = CAP_PX * look.lettering * unit
    block = set_text(text, cap, (x1 - x0) * 0.8, look.hand)
    if block.height_px > 0.3 * (y1 - y0) or block.width_px > 0.95 * (x1 - x0):
        return []
    x, y = (x0 + x1) / 2, y0 + block.height_px / 2 + cap * 0.4
    wide = (x1 - x0) / 2 * rng.uniform(0.9, 1.01)
    n = 60
    t = np.linspace(0, np.pi, n)
    jag = np.where(np.arange(n) % 2 == 0, cap * rng.uniform(0.6, 1.6, n), 0.0)
    lower = np.stack([x + wide * np.cos(t), y + block.height_px / 2 + cap * 0.8 + jag], axis=1)
    shape = np.concatenate([lower, [(x - wide, y0 - cap * 0.4), (x + wide, y0 - cap * 0.4)]])
    fill = look.ground if min(look.ground) > 200 else (255, 255, 255)
    draw_balloon(page, [shape], 0.0, fill)
    draw_text(page, block, x, y, look.hand, rng)
    return [lenient_outline(shape)]


def _effect(
    page: np.ndarray, panel: DrawnPanel, look: Look, unit: float, rng: np.random.Generator,
    text: str = "",
) -> shapely.Polygon:  # fmt: skip
    x0, y0, x1, y1 = panel.plan.box
    text = text or str(rng.choice(EFFECTS))
    cap = min((x1 - x0) / (len(text) * 0.95), (y1 - y0) * 0.3) * rng.uniform(0.6, 1.0)
    over = rng.random() < 0.3 and panel.plan.shot is None
    spread = 0.5 if over else 0.22
    x = (x0 + x1) / 2 + (x1 - x0) * rng.uniform(-spread, spread)
    y = y0 + (y1 - y0) * rng.uniform(0.55, 0.95 if over else 0.8)
    wide = text_width(text) * cap / CAP_HEIGHT
    if not over:  # else it may run off the page, as such lettering does
        x = float(np.clip(x, wide * 0.6, page.shape[1] - wide * 0.6))
    mono = look.style in ("ink", "onebit", "screentone", "pencil")
    fill: RGB = (255, 255, 255) if mono or rng.random() < 0.4 else look.palettes[0].accent
    return draw_effect(page, text, x, y, cap, float(rng.uniform(-24, 16)), fill, (16, 16, 18), rng)


def _title(
    page: np.ndarray, panel: DrawnPanel, text: str, look: Look, rng: np.random.Generator
) -> None:
    """Big lettering at the top of a panel, one word or two to a line."""
    x0, y0, x1, y1 = panel.plan.box
    lines = text.split("|")
    for k, line in enumerate(lines):
        cap = min((x1 - x0) * 0.8 / text_width(line) * CAP_HEIGHT, (y1 - y0) * 0.11)
        y = y0 + (y1 - y0) * (0.12 + 0.135 * k)
        draw_effect(
            page, line, (x0 + x1) / 2, y, cap, -3.0, look.palettes[0].light, (20, 22, 34), rng
        )
