"""Drawn facing pages, double-page pictures and wide single pages, with known folds.

Everything is made from random numbers with a seed: panels filled with tones, hatching,
noise and blobs, balloons, borders; then aged as a scanner does. No picture of anyone's.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Drawn:
    """An image and, for facing pages, where the fold lies (a share of the width)."""

    pixels: np.ndarray
    fold: float | None
    kind: str


Box = tuple[int, int, int, int]


def _art(rng: np.random.Generator, height: int, width: int) -> np.ndarray:
    """Gray art: a tone or gradient, with hatching, blobs or noise over it."""
    tone = rng.uniform(90, 250)
    art = np.full((height, width), tone, np.float32)
    if rng.random() < 0.5:
        slope = rng.uniform(-80, 80)
        art += np.linspace(0, slope, height, dtype=np.float32)[:, None]
    kind = rng.integers(0, 4)
    if kind == 0:
        step, turn = int(rng.integers(5, 14)), rng.uniform(-1, 1)
        for k in range(-height, width + height, step):
            end = (int(k + turn * height), height)
            cv2.line(art, (k, 0), end, float(rng.uniform(0, 90)), 1, cv2.LINE_AA)
    elif kind == 1:
        noise = rng.normal(0, 40, (max(2, height // 12), max(2, width // 12))).astype(np.float32)
        art += cv2.resize(noise, (width, height), interpolation=cv2.INTER_CUBIC)
    for _ in range(int(rng.integers(1, 7))):
        centre = (int(rng.integers(0, width)), int(rng.integers(0, height)))
        axes = (int(rng.integers(4, max(5, width // 4))), int(rng.integers(4, max(5, height // 3))))
        tone = float(rng.uniform(0, 255))
        cv2.ellipse(art, centre, axes, float(rng.uniform(0, 180)), 0, 360, tone, -1, cv2.LINE_AA)
        cv2.ellipse(art, centre, axes, 0, 0, 360, 20.0, 2, cv2.LINE_AA)
    return np.clip(art, 0, 255)


def _balloon(rng: np.random.Generator, art: np.ndarray) -> None:
    height, width = art.shape
    axes = (max(6, int(width * rng.uniform(0.1, 0.25))), max(5, int(height * 0.1)))
    centre = (int(rng.integers(axes[0], max(axes[0] + 1, width - axes[0]))), axes[1] + 6)
    cv2.ellipse(art, centre, axes, 0, 0, 360, 255.0, -1, cv2.LINE_AA)
    cv2.ellipse(art, centre, axes, 0, 0, 360, 10.0, 2, cv2.LINE_AA)


def draw_panel(
    rng: np.random.Generator, page: np.ndarray, box: Box, border: int, plain: bool = False
) -> None:
    """Fill a box of the page with art and frame it."""
    x0, y0, x1, y1 = box
    art = (
        np.full((y1 - y0, x1 - x0), rng.uniform(190, 255), np.float32)
        if plain
        else _art(rng, y1 - y0, x1 - x0)
    )
    if rng.random() < 0.6 and not plain:
        _balloon(rng, art)
    page[y0:y1, x0:x1] = art
    if border:  # a panel that runs off the page has no border there
        a, b = x0 - 20 * (x0 == 0), x1 - 1 + 20 * (x1 == page.shape[1])
        c, d = y0 - 20 * (y0 == 0), y1 - 1 + 20 * (y1 == page.shape[0])
        cv2.rectangle(page, (a, c), (b, d), float(rng.uniform(0, 40)), border)


def tiers(
    rng: np.random.Generator, box: Box, gutter: int, count: int, most: int = 3
) -> list[list[Box]]:
    """Cut a box into tiers of panels."""
    x0, y0, x1, y1 = box
    cuts = np.sort(rng.uniform(-0.08, 0.08, count - 1)) + np.arange(1, count) / count
    ys = [y0, *(int(y0 + c * (y1 - y0)) for c in cuts), y1]
    rows = []
    for top, bottom in itertools.pairwise(ys):
        n = int(rng.integers(1, most + 1))
        inner = np.sort(rng.uniform(-0.1, 0.1, n - 1)) / n + np.arange(1, n) / n
        xs = [x0, *(int(x0 + c * (x1 - x0)) for c in inner), x1]
        low = bottom - (gutter if bottom != y1 else 0)
        rows.append(
            [(a, top, b - (gutter if b != x1 else 0), low) for a, b in itertools.pairwise(xs)]
        )
    return rows


def draw_page(
    rng: np.random.Generator,
    height: int,
    width: int,
    ground: float,
    margins: tuple[int, int, int, int],
    bleed_left: float = 0.0,
    bleed_right: float = 0.0,
) -> np.ndarray:
    """One page; a tier's outer panels run off a side with the chance given for it."""
    page = np.full((height, width), ground, np.float32)
    left, top, right, bottom = margins
    gutter, border = int(rng.integers(6, 16)), int(rng.integers(1, 5))
    inner = (left, top, width - right, height - bottom)
    if rng.random() < 0.08:
        rows = [[inner]]
    else:
        rows = tiers(rng, inner, gutter, int(rng.integers(2, 5)))
    for row in rows:
        for k, (x0, y0, x1, y1) in enumerate(row):
            if k == 0 and rng.random() < bleed_left:
                x0 = 0
            if k == len(row) - 1 and rng.random() < bleed_right:
                x1 = width
            draw_panel(rng, page, (x0, y0, x1, y1), border)
    return page


def _look(rng: np.random.Generator) -> tuple[int, int, float]:
    """Height, page width and ground of a book."""
    height = int(rng.integers(900, 1300))
    width = int(height * rng.uniform(0.62, 0.76))
    ground = float(rng.choice([255, 255, 255, 245, 225, 12]))
    return height, width, ground


def _margins(rng: np.random.Generator, width: int) -> tuple[int, int, int, int]:
    m = rng.uniform(0.045, 0.09) * width
    side = int(m * rng.uniform(0.9, 1.3))
    return int(m), int(m * 1.2), side, int(m * 1.3)


def facing_pages(rng: np.random.Generator, bleeds: str = "none") -> Drawn:
    """Two pages joined edge to edge; ``bleeds``: none, one (side of the fold) or both."""
    height, width, ground = _look(rng)
    margins = _margins(rng, width)
    mirrored = (margins[2], margins[1], margins[0], margins[3])
    chance = {"none": 0.0, "one": 1.0, "both": 1.0, "some": 0.5}[bleeds]
    left_side = bleeds in ("both", "some") or (bleeds == "one" and rng.random() < 0.5)
    right_side = bleeds in ("both", "some") or (bleeds == "one" and not left_side)
    left = draw_page(rng, height, width, ground, mirrored, 0.2, chance * left_side)
    right = draw_page(rng, height, width, ground, margins, chance * right_side, 0.2)
    return Drawn(np.hstack([left, right]), 0.5, f"facing, bleeds {bleeds}")


def double_picture(rng: np.random.Generator, how: str = "splash") -> Drawn:
    """Art that runs through the fold: the whole spread, one tier of it, or a plain panel."""
    height, width, ground = _look(rng)
    margins = _margins(rng, width)
    full = 2 * width
    page = np.full((height, full), ground, np.float32)
    left, top, right, bottom = margins
    if how == "splash":
        box = (
            (0, 0, full, height)
            if rng.random() < 0.5
            else (left, top, full - right, height - bottom)
        )
        draw_panel(rng, page, box, 3)
        return Drawn(page, None, "double picture")
    inner = (left, top, full - right, height - bottom)
    count = int(rng.integers(2, 5))
    crossing = int(rng.integers(0, count))
    gutter = int(rng.integers(6, 16))
    ys = np.linspace(inner[1], inner[3], count + 1).astype(int)
    for k in range(count):
        y0, y1 = int(ys[k]), int(ys[k + 1]) - gutter
        if k == crossing:
            draw_panel(rng, page, (inner[0], y0, inner[2], y1), 3, plain=how == "plain")
            continue
        for x0, x1 in ((inner[0], width - right), (width + left, inner[2])):
            for row in tiers(rng, (x0, y0, x1, y1), gutter, 1):
                for panel in row:
                    draw_panel(rng, page, panel, 3)
    return Drawn(page, None, f"double tier, {how}")


def wide_page(rng: np.random.Generator, how: str = "album") -> Drawn:
    """A wide single page: an album page with panels over the middle, or a two-column grid."""
    height = int(rng.integers(700, 1000))
    width = int(height * rng.uniform(1.2, 1.6))
    ground = float(rng.choice([255, 255, 240, 12]))
    margins = _margins(rng, width)
    page = np.full((height, width), ground, np.float32)
    inner = (margins[0], margins[1], width - margins[2], height - margins[3])
    gutter, count = int(rng.integers(6, 18)), int(rng.integers(2, 4))
    rows = tiers(rng, inner, gutter, count)
    if how == "columns":
        middle = width // 2
        rows = [
            [(r[0][0], r[0][1], middle - gutter // 2, r[0][3]),
             (middle + gutter - gutter // 2, r[0][1], r[-1][2], r[0][3])]
            for r in rows
        ]  # fmt: skip
    elif not any(x0 < 0.48 * width and x1 > 0.52 * width for row in rows for x0, _, x1, _ in row):
        rows[0] = [(rows[0][0][0], rows[0][0][1], rows[0][-1][2], rows[0][0][3])]
    for row in rows:
        for panel in row:
            draw_panel(rng, page, panel, int(rng.integers(2, 5)))
    return Drawn(page, None, f"wide page, {how}")


def aged(rng: np.random.Generator, drawn: Drawn, how: str) -> Drawn:
    """As exported; scanned (fold shadow, noise, JPEG, slant); or on a dark scanner bed."""
    pixels, fold = drawn.pixels.copy(), drawn.fold
    height, width = pixels.shape
    if how == "export":
        return Drawn(np.clip(pixels, 0, 255).astype(np.uint8), fold, f"{drawn.kind}, export")
    x = np.arange(width, dtype=np.float32)
    slant = np.tan(np.deg2rad(rng.uniform(-1.0, 1.0)))
    place = width / 2 + slant * (np.arange(height, dtype=np.float32) - height / 2)
    reach = rng.uniform(0.006, 0.03) * width
    depth = rng.uniform(0.12, 0.6)
    shade = 1 - depth * np.exp(-(((x[None, :] - place[:, None]) / reach) ** 2))
    if rng.random() < 0.4:
        shade -= 0.5 * np.exp(-(((x[None, :] - place[:, None]) / 1.5) ** 2))
    if drawn.kind.startswith("wide"):
        shade = np.ones_like(shade)
    light = 1 - rng.uniform(0, 0.12) * np.linspace(0, 1, height, dtype=np.float32)[:, None]
    pixels = np.clip(pixels * shade * light, 0, 255)
    angle = float(np.rad2deg(np.arctan(slant)))
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), angle if drawn.fold is None else 0, 1)
    pixels = cv2.warpAffine(pixels, turn, (width, height), borderMode=cv2.BORDER_REPLICATE)
    if how == "bed":
        pixels, fold = _on_bed(rng, pixels, fold)
    pixels = cv2.GaussianBlur(pixels, (0, 0), rng.uniform(0.4, 1.2))
    pixels += rng.normal(0, rng.uniform(1, 6), pixels.shape)
    coded = cv2.imencode(
        ".jpg", np.clip(pixels, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 70]
    )[1]
    return Drawn(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE), fold, f"{drawn.kind}, {how}")


def _on_bed(
    rng: np.random.Generator, pixels: np.ndarray, fold: float | None
) -> tuple[np.ndarray, float | None]:
    height, width = pixels.shape
    before = [int(rng.uniform(0.01, 0.06) * side) for side in (height, height, width, width)]
    bed = float(rng.uniform(5, 70))
    out = cv2.copyMakeBorder(pixels, *before, cv2.BORDER_CONSTANT, value=bed)
    if fold is None:
        return out, None
    return out, (before[2] + fold * width) / out.shape[1]
