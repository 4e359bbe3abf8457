"""Drawn pages with what the small net has to learn of them (a part of train_evidence.py)."""

from __future__ import annotations

import os
import zlib
from dataclasses import dataclass

os.environ.setdefault("OMP_NUM_THREADS", "1")

import cv2
import numpy as np
import shapely
from evidence_art import bent, with_marks, with_other_art, with_other_ground
from evidence_insets import with_insets

from panelscan.demo.hands import TUNING_HANDS
from panelscan.demo.maker import draw_page
from panelscan.demo.recipes import CATEGORIES

HEIGHT, WIDTH = 768, 576
MOST_PANELS, POINTS = 48, 16
HARD = (
    "scan", "one-bit", "open", "bleed", "inset", "mixed", "burst", "gutter", "shaped",
    "low-resolution", "one-bit", "inset", "shaped", "one-bit", "low-resolution", "inset", "bleed",
    "scan",
)  # fmt: skip
"""Categories that are drawn once more for each time they stand here."""

PUSHED_PX = 120.0
"""How far art that bleeds is taken to run on beyond the page's edge."""


@dataclass(frozen=True, eq=False)
class Example:
    """A page and its truth at the net's size.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (768, 576, 3)
    maps : ndarray of uint8, shape (3, 384, 288)
        Border, inside, and the owner: 0 for ground, k + 1 for panel k, the front one on top.
    hulls : ndarray of float32, shape (48, 16, 2)
        Outermost points of each panel in 16 directions, in pixels of the page.
    """

    pixels: np.ndarray
    maps: np.ndarray
    hulls: np.ndarray


def tasks_of(count: int, first_seed: int) -> list[tuple[str, int, str]]:
    """Category, seed and hand of each page to draw, from tuning books and hands alone."""
    wanted = [*CATEGORIES, *HARD]
    before = [wanted[:k].count(name) for k, name in enumerate(wanted)]
    most = max(before) + 1
    hands = list(TUNING_HANDS)
    tasks = []
    for k in range(count):
        turn, place = divmod(k, len(wanted))
        hand = hands[(k + turn) % len(hands)]
        tasks.append((wanted[place], first_seed + most * turn + before[place], hand))
    return tasks


FINE = ("one-bit",)
"""Categories drawn more often at the size of a scan: their grain is most of what is seen."""


def _height_px(category: str, rng: np.random.Generator) -> int:
    """Height to draw a page at: tones and dots come out coarse or fine at the net's size."""
    coarse = 0.35 if category in FINE else 0.65
    low, high = (820, 1300) if rng.random() < coarse else (1300, 2000)
    return int(rng.integers(low, high))


def draw_example(task: tuple[str, int, str]) -> Example | None:
    """A page of a category; None where it cannot be drawn."""
    category, seed, hand = task
    cv2.setNumThreads(1)
    rng = np.random.default_rng([seed, zlib.crc32(category.encode()), 5])
    try:
        page = draw_page(category, seed, hand=hand, height_px=_height_px(category, rng))
    except Exception:  # a page that cannot be drawn is no example
        return None
    pixels = page.pixels if page.pixels.ndim == 3 else np.repeat(page.pixels[..., None], 3, axis=2)
    panels = sorted(page.truth.panels, key=lambda p: p.depth)
    rings = [p.outline.array() for p in panels]
    pixels, rings = _as_others_draw(np.ascontiguousarray(pixels), rings, rng)
    fold = page.truth.fold_x_px
    if fold is not None and rng.random() < 0.75:
        pixels, rings = _half(pixels, rings, round(fold), bool(rng.random() < 0.5))
    scale = min(HEIGHT / pixels.shape[0], WIDTH / pixels.shape[1])
    size = (int(pixels.shape[1] * scale), int(pixels.shape[0] * scale))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    rings = [r * scale for r in rings[:MOST_PANELS]]
    below, beside = HEIGHT - small.shape[0], WIDTH - small.shape[1]
    small = cv2.copyMakeBorder(small, 0, below, 0, beside, cv2.BORDER_REPLICATE)
    return Example(small, _maps(rings, size), _hulls(rings, size))


def _as_others_draw(
    pixels: np.ndarray, rings: list[np.ndarray], rng: np.random.Generator
) -> tuple[np.ndarray, list[np.ndarray]]:
    """Page with other art, ground, insets, lettering and marks in it, or bent a little."""
    if rng.random() < 0.55:
        pixels = with_other_art(pixels.copy(), rings, rng)
    if rng.random() < 0.08:
        pixels = with_other_ground(pixels.copy(), rings, rng)
    if rng.random() < 0.22:
        pixels, rings = with_insets(pixels.copy(), rings, rng)
    if rng.random() < 0.4:
        pixels = with_marks(pixels.copy(), rings, rng)
    if rng.random() < 0.25:
        pixels, rings = bent(pixels, rings, rng)
    return pixels, rings


def _half(
    pixels: np.ndarray, rings: list[np.ndarray], fold: int, left: bool
) -> tuple[np.ndarray, list[np.ndarray]]:
    """One of two facing pages, as a scan parts them."""
    x0, x1 = (0, fold) if left else (fold, pixels.shape[1])
    box = shapely.box(x0, 0, x1, pixels.shape[0])
    kept = []
    for ring in rings:
        part = shapely.make_valid(shapely.Polygon(ring)).intersection(box)
        if part.geom_type == "Polygon" and part.area > 0.002 * box.area:
            kept.append(np.array(part.exterior.coords)[:-1] - (x0, 0))
    return np.ascontiguousarray(pixels[:, x0:x1]), kept


def _maps(rings: list[np.ndarray], size: tuple[int, int]) -> np.ndarray:
    width, height = -(-size[0] // 2), -(-size[1] // 2)
    border, inner, owner = (np.zeros((height, width), np.uint8) for _ in range(3))
    for k, ring in enumerate(r / 2 for r in rings):
        whole = [np.round(ring * 16 - 8).astype(np.int32)]
        for image, value in ((border, 0), (inner, 1), (owner, k + 1)):
            cv2.fillPoly(image, whole, value, cv2.LINE_8, 4)
        for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            at_edge = any(
                abs(a[i] - edge) < 2 and abs(b[i] - edge) < 2
                for i, edge in ((0, 0), (1, 0), (0, size[0] / 2), (1, size[1] / 2))
            )
            ends = [tuple(int(v) for v in np.round(p * 16 - 8)) for p in (a, b)]
            if not at_edge:
                cv2.line(inner, *ends, 0, 4, cv2.LINE_8, 4)
                cv2.line(border, *ends, 1, 2, cv2.LINE_8, 4)
    maps = [
        cv2.copyMakeBorder(m, 0, HEIGHT // 2 - height, 0, WIDTH // 2 - width, cv2.BORDER_REPLICATE)
        for m in (border, inner, owner)
    ]
    return np.stack(maps)


def _hulls(rings: list[np.ndarray], size: tuple[int, int]) -> np.ndarray:
    turn = np.arange(POINTS) * 2 * np.pi / POINTS
    ways = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    hulls = np.zeros((MOST_PANELS, POINTS, 2), np.float32)
    for k, ring in enumerate(rings):
        pushed = ring.copy()
        for axis in (0, 1):
            pushed[ring[:, axis] < 3, axis] -= PUSHED_PX
            pushed[ring[:, axis] > size[axis] - 3, axis] += PUSHED_PX
        hulls[k] = pushed[np.argmax(pushed @ ways.T, axis=0)]
    return hulls
