"""Balloons, captions, sound effects and lines of lettering."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
import shapely

from panelscan.demo.alphabet import CAP_HEIGHT, text_strokes, text_width
from panelscan.demo.canvas import oval_points
from panelscan.demo.hands import Hand
from panelscan.demo.raster import (
    RGB,
    SHIFT,
    cover,
    fixed,
    lay_color,
    outline_points,
    ring_band,
    rounded_path,
)

LEADING = 1.55
"""Distance of the lines of lettering in cap heights (practice, no source)."""


@dataclass(frozen=True)
class TextBlock:
    """Lettering broken into lines, with its size in pixels."""

    lines: tuple[str, ...]
    cap_px: float
    width_px: float
    height_px: float


def set_text(text: str, cap_px: float, widest_px: float, hand: Hand) -> TextBlock:
    """Break a text into centred lines no wider than ``widest_px`` where words allow it."""
    words, lines, line = text.split(), [], ""
    for word in words:
        longer = f"{line} {word}".strip()
        if line and _line_width(longer, cap_px, hand) > widest_px:
            lines.append(line)
            line = word
        else:
            line = longer
    lines.append(line)
    width = max(_line_width(t, cap_px, hand) for t in lines)
    return TextBlock(tuple(lines), cap_px, width, cap_px * (1 + LEADING * (len(lines) - 1)))


def draw_text(
    page: np.ndarray,
    block: TextBlock,
    x: float,
    y: float,
    hand: Hand,
    rng: np.random.Generator,
    rgb: RGB = (20, 20, 22),
) -> None:
    """Draw centred lines; ``x, y`` is the middle of the block in page pixels."""
    top = y - block.height_px / 2
    for k, text in enumerate(block.lines):
        left = x - _line_width(text, block.cap_px, hand) / 2
        _draw_line(page, text, left, top + k * block.cap_px * LEADING, block.cap_px, hand, rng, rgb)


def _line_width(text: str, cap_px: float, hand: Hand) -> float:
    if hand.letters == "type":
        return float(_type_mask(text, round(cap_px)).shape[1])
    return text_width(text) * cap_px / CAP_HEIGHT


def _draw_line(
    page: np.ndarray, text: str, x: float, y: float, cap_px: float, hand: Hand,
    rng: np.random.Generator, rgb: RGB,
) -> None:  # fmt: skip
    if hand.letters == "type":
        _stamp(page, _type_mask(text, round(cap_px)), round(x), round(y), rgb)
        return
    lean = 0.18 if hand.letters == "slant" else 0.0
    lines = [fixed(s + (x, y)) for s in text_strokes(text, cap_px, rng, lean)]
    cv2.polylines(page, lines, False, rgb, max(round(cap_px * 0.13), 1), cv2.LINE_AA, SHIFT)


@lru_cache(maxsize=512)
def _type_mask(text: str, cap_px: int) -> np.ndarray:
    from PIL import Image, ImageDraw, ImageFont

    # Pillow's own scalable face; its capitals are about 0.72 of the size.
    font = ImageFont.load_default(max(cap_px / 0.72, 4))
    shown = text.upper()
    left, top, right, bottom = font.getbbox(shown)
    image = Image.new("L", (max(int(right - left) + 2, 1), max(int(bottom - top) + 2, 1)))
    ImageDraw.Draw(image).text((1 - left, 1 - top), shown, fill=255, font=font)
    return np.asarray(image)


def _stamp(page: np.ndarray, mask: np.ndarray, x: int, y: int, rgb: RGB) -> None:
    x0, y0 = max(x, 0), max(y, 0)
    x1, y1 = min(x + mask.shape[1], page.shape[1]), min(y + mask.shape[0], page.shape[0])
    if x1 <= x0 or y1 <= y0:
        return
    a = mask[y0 - y : y1 - y, x0 - x : x1 - x, None].astype(np.float32) / 255
    part = page[y0:y1, x0:x1]
    part[...] = (part * (1 - a) + np.asarray(rgb, np.float32) * a).astype(np.uint8)


def balloon_shape(
    block: TextBlock, x: float, y: float, kind: str, rng: np.random.Generator
) -> np.ndarray:
    """Outline of a balloon about a text block centred on ``x, y``; shape (N, 2).

    ``kind`` is ``"round"``, ``"squash"``, ``"wavy"``, ``"burst"`` (shout), ``"cloud"``
    (thought) or ``"box"`` (caption).
    """
    pad = block.cap_px
    rx, ry = block.width_px / 2 + pad * 0.9, block.height_px / 2 + pad * 0.8
    if kind == "box":
        return np.array([(x - rx, y - ry), (x + rx, y - ry), (x + rx, y + ry), (x - rx, y + ry)])
    if kind == "squash":
        return oval_points(x, y, rx * 1.06, ry * 1.14, 0, 0.75, 44)
    shape = oval_points(x, y, rx * 1.2, ry * 1.36, float(rng.normal() * 2), 0.22, 48)
    if kind == "wavy":
        t = np.linspace(0, 2 * np.pi, 48, endpoint=False)
        swell = 1 + 0.03 * np.sin(2 * t + rng.uniform(0, 6)) + 0.02 * np.sin(3 * t)
        return (shape - (x, y)) * swell[:, None] + (x, y)
    if kind == "burst":
        swell = np.where(np.arange(48) % 2 == 0, rng.uniform(1.12, 1.4, 48), 0.98)
        return (shape - (x, y)) * swell[:, None] + (x, y)
    if kind == "cloud":
        swell = 1 + 0.09 * np.abs(np.sin(np.linspace(0, 9 * np.pi, 48)))
        return (shape - (x, y)) * swell[:, None] + (x, y)
    return shape


def tail_shape(
    shape: np.ndarray, to: tuple[float, float], width: float, rng: np.random.Generator
) -> np.ndarray:
    """A bent, pointed tail from the balloon's middle towards a point; shape (N, 2)."""
    start = shape.mean(axis=0)
    end = np.asarray(to, dtype=np.float64)
    along = end - start
    across = np.array([-along[1], along[0]]) / max(float(np.hypot(*along)), 1e-6)
    bend = start + along * 0.6 + across * width * float(rng.uniform(-0.9, 0.9))
    left, right = start + across * width / 2, start - across * width / 2
    return rounded_path(
        np.array([left, bend + across * width * 0.24, end, bend - across * width * 0.2, right]), 1
    )


def draw_balloon(
    page: np.ndarray,
    shapes: Sequence[np.ndarray],
    line_px: float,
    fill: RGB = (255, 255, 255),
    ink: RGB = (18, 18, 20),
) -> shapely.Polygon:
    """Draw balloon and tail as one shape (a union); returns it in page pixels.

    With ``line_px`` 0 the balloon has no outline and opens into a gutter of its colour.
    """
    union = shapely.union_all([shapely.make_valid(shapely.Polygon(s)) for s in shapes])
    parts = [g for g in getattr(union, "geoms", [union]) if g.geom_type == "Polygon"]
    body = max(parts, key=lambda g: g.area)
    lay_color(page, cover(body, page.shape[:2]), fill)
    if line_px > 0:
        for ring in outline_points([body]):
            lay_color(page, cover(ring_band(ring, line_px), page.shape[:2]), ink)
    return body


def draw_effect(
    page: np.ndarray,
    text: str,
    x: float,
    y: float,
    cap_px: float,
    turn_deg: float,
    fill: RGB,
    ink: RGB,
    rng: np.random.Generator,
) -> shapely.Polygon:
    """Draw a sound effect: fat letters with an outline, turned; returns its box."""
    strokes = text_strokes(text, cap_px, rng, 0.12, 0.3)
    points = np.concatenate(strokes)
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    a = np.radians(turn_deg)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    laid = [fixed((s - middle) @ turn + (x, y)) for s in strokes]
    wide = max(round(cap_px * 0.34), 3)
    cv2.polylines(page, laid, False, ink, wide, cv2.LINE_AA, SHIFT)
    cv2.polylines(
        page, laid, False, fill, max(wide - max(round(cap_px * 0.12), 2), 1), cv2.LINE_AA, SHIFT
    )
    half = (points.max(axis=0) - points.min(axis=0)) / 2 + wide / 2
    box = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half
    return shapely.Polygon(box @ turn + (x, y))
