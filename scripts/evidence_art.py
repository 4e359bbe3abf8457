"""Other art for drawn pages, so that the net learns panels and not our drawing.

A part of train_evidence.py. Pictures that scikit-image ships, redrawn as ink, paint, tone or
line; hand lettering without balloons; bars and blobs of black and colour; grounds of another
tone; pages bent a little.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np

_PHOTOS: list[np.ndarray] = []


def _photographs() -> list[np.ndarray]:
    """Pictures that scikit-image ships inside its package (free licences)."""
    if not _PHOTOS:
        import skimage

        folder = Path(skimage.__file__).parent / "data"
        folders = [folder, folder.parent.parent / "_skimage2" / "data"]
        for path in sorted(p for f in folders if f.exists() for p in f.iterdir()):
            if path.suffix in (".png", ".jpg", ".jpeg", ".gif"):
                image = cv2.imread(str(path), cv2.IMREAD_COLOR)
                if image is not None and min(image.shape[:2]) > 120:
                    _PHOTOS.append(image[..., ::-1])
    return _PHOTOS


def some_picture(width: int, height: int, rng: np.random.Generator) -> np.ndarray:
    """A part of a photograph, redrawn in some manner, uint8 RGB of the size asked for."""
    photos = _photographs()
    photo = photos[rng.integers(len(photos))]
    share = rng.uniform(0.3, 1.0)
    ratio = width / height
    rows = int(max(24, share * min(photo.shape[0], photo.shape[1] / ratio)))
    columns = int(min(photo.shape[1], max(24, rows * ratio)))
    y = int(rng.integers(0, photo.shape[0] - rows + 1))
    x = int(rng.integers(0, photo.shape[1] - columns + 1))
    part = photo[y : y + rows, x : x + columns]
    if rng.random() < 0.5:
        part = part[:, ::-1]
    image = cv2.resize(np.ascontiguousarray(part), (width, height), interpolation=cv2.INTER_CUBIC)
    return _redrawn(image, rng)


def _redrawn(image: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    way = rng.choice(["photo", "gray", "paint", "ink", "line", "tone", "tint"])
    gray = cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)
    if way == "gray":
        gray = cv2.equalizeHist(gray) if rng.random() < 0.5 else gray
        return np.repeat(gray[..., None], 3, axis=2)
    if way == "paint":
        size = 2 * int(rng.integers(2, 6)) + 1
        levels = int(rng.integers(4, 9))
        soft = cv2.medianBlur(image, size).astype(np.float32)
        flat = np.round(soft / 255 * levels) / levels * 255
        turned = np.roll(flat, int(rng.integers(3)), axis=2)
        return turned.astype(np.uint8)
    if way == "ink":
        size = 2 * int(rng.integers(5, 20)) + 1
        ink = cv2.adaptiveThreshold(
            cv2.GaussianBlur(gray, (0, 0), rng.uniform(0.8, 2.5)), 255,
            cv2.ADAPTIVE_THRESH_GAUSSIAN_C, cv2.THRESH_BINARY, size, float(rng.uniform(1, 8)),
        )  # fmt: skip
        if rng.random() < 0.6:
            ink[gray < np.percentile(gray, rng.uniform(5, 35))] = 0
        return np.repeat(ink[..., None], 3, axis=2)
    if way == "line":
        edges = cv2.Canny(cv2.GaussianBlur(gray, (0, 0), 1.5), 30, 90)
        edges = cv2.dilate(edges, np.ones((int(rng.integers(1, 4)),) * 2))
        return np.repeat(255 - edges[..., None], 3, axis=2)
    if way == "tone":
        pitch = int(rng.integers(3, 7))
        y, x = np.mgrid[0 : gray.shape[0], 0 : gray.shape[1]]
        screen = 127 + 60 * (
            np.cos(2 * np.pi * (x + y) / pitch) + np.cos(2 * np.pi * (x - y) / pitch)
        )
        dots = np.where(gray > screen, 255, 0).astype(np.uint8)
        return np.repeat(dots[..., None], 3, axis=2)
    if way == "tint":
        dark, light = rng.integers(0, 110, 3), rng.integers(140, 256, 3)
        share = gray[..., None].astype(np.float32) / 255
        return (dark * (1 - share) + light * share).astype(np.uint8)
    return image


def _stencil(
    rings: list[np.ndarray], k: int, low: np.ndarray, size: tuple[int, int], inset: int
) -> np.ndarray:
    """Where panel k shows, away from its border and from the panels in front of it."""
    mask = np.zeros((size[1], size[0]), np.uint8)
    cv2.fillPoly(mask, [np.round(rings[k] - low).astype(np.int32)], 255)
    # The mask ends at the panel's box: beyond it counts as outside.
    brush = np.ones((inset, inset), np.uint8)
    mask = cv2.erode(mask, brush, borderType=cv2.BORDER_CONSTANT, borderValue=0)
    for ring in rings[k + 1 :]:
        front = np.round(ring - low).astype(np.int32)
        cv2.fillPoly(mask, [front], 0)
        cv2.polylines(mask, [front], True, 0, inset)
    return mask > 0


def with_other_art(
    pixels: np.ndarray, rings: list[np.ndarray], rng: np.random.Generator
) -> np.ndarray:
    """Page with other art in some of its panels (in place)."""
    every = rng.uniform(0.3, 1.0)
    inset = int(rng.integers(5, 11))
    for k, ring in enumerate(rings):
        low = np.maximum(np.floor(ring.min(axis=0)).astype(int), 0)
        high = np.minimum(np.ceil(ring.max(axis=0)).astype(int), pixels.shape[1::-1])
        width, height = (int(v) for v in high - low)
        if rng.random() > every or min(width, height) < 30:
            continue
        mask = _stencil(rings, k, low, (width, height), inset)
        window = pixels[low[1] : high[1], low[0] : high[0]]
        art = some_picture(width, height, rng)
        part = 1.0 if rng.random() < 0.5 else rng.uniform(0.4, 1.0)
        mixed = (part * art + (1 - part) * window).astype(np.uint8)
        window[mask] = mixed[mask]
    return pixels


def with_other_ground(
    pixels: np.ndarray, rings: list[np.ndarray], rng: np.random.Generator
) -> np.ndarray:
    """Page whose ground has one other tone up to its panels' borders (in place)."""
    ground = np.full(pixels.shape[:2], 255, np.uint8)
    line_px = int(rng.integers(0, 4))
    for ring in rings:
        cv2.fillPoly(ground, [np.round(ring).astype(np.int32)], 0)
        if line_px:
            cv2.polylines(ground, [np.round(ring).astype(np.int32)], True, 0, 2 * line_px + 1)
    tone = (int(rng.integers(0, 40)),) * 3 if rng.random() < 0.6 else rng.integers(0, 256, 3)
    two_tone = len(np.unique(pixels[::7, ::7])) <= 2
    pixels[ground > 0] = (0, 0, 0) if two_tone else tone
    return pixels


def with_marks(pixels: np.ndarray, rings: list[np.ndarray], rng: np.random.Generator) -> np.ndarray:
    """Page with lettering, bars or blobs in some of its panels (in place)."""
    every = rng.uniform(0.2, 0.9)
    for k, ring in enumerate(rings):
        low = np.maximum(np.floor(ring.min(axis=0)).astype(int), 0)
        high = np.minimum(np.ceil(ring.max(axis=0)).astype(int), pixels.shape[1::-1])
        width, height = (int(v) for v in high - low)
        if rng.random() > every or min(width, height) < 40:
            continue
        window = pixels[low[1] : high[1], low[0] : high[0]]
        drawn = np.ascontiguousarray(window.copy())
        make = (_letters, _bars, _blobs)[int(rng.integers(3))]
        make(drawn, rng)
        mask = _stencil(rings, k, low, (width, height), 5)
        window[mask] = drawn[mask]
    return pixels


def _tone(rng: np.random.Generator) -> tuple[int, int, int]:
    if rng.random() < 0.6:
        return (int(rng.integers(0, 60)),) * 3
    r, g, b = rng.integers(0, 215, 3)
    return int(r), int(g), int(b)


def _letters(image: np.ndarray, rng: np.random.Generator) -> None:
    height, width = image.shape[:2]
    size = int(rng.uniform(0.018, 0.07) * max(pixels_long(image), 300)) + 8
    face = int(rng.choice([0, 2, 3, 4, 6, 7]))
    scale = size / 22.0
    thick = max(1, round(size * rng.uniform(0.06, 0.16)))
    dark = rng.random() < 0.8
    tone = (0, 0, 0) if dark else (255, 255, 255)
    letters = list("ABCDEFGHIJKLMNOPRSTUVWabcdefghiklmnoprstuvw ,.!?  ")
    y = int(size * rng.uniform(0.6, 2.5))
    for _ in range(int(rng.integers(1, 9))):
        if y > height:
            break
        word = "".join(rng.choice(letters, int(rng.integers(4, 40))))
        x = int(rng.uniform(-0.02, 0.4) * width)
        cv2.putText(image, word, (x, y), face, scale, tone, thick, cv2.LINE_AA)
        y += int(size * rng.uniform(1.3, 2.0))


def pixels_long(image: np.ndarray) -> int:
    """Long side of an image."""
    return int(max(image.shape[:2]))


def _bars(image: np.ndarray, rng: np.random.Generator) -> None:
    height, width = image.shape[:2]
    for _ in range(int(rng.integers(1, 4))):
        across = rng.random() < 0.4
        long, short = (width, height) if across else (height, width)
        thick = max(8.0, rng.uniform(0.03, 0.14) * short)
        at = rng.uniform(0.1, 0.9) * short
        along = np.linspace(0, long, 14)
        sway = np.cumsum(rng.normal(size=14)) * thick * rng.uniform(0, 0.12)
        bulge = thick * (0.5 + 0.15 * rng.normal(size=14))
        ends = np.stack([along, at + sway - bulge], 1), np.stack([along, at + sway + bulge], 1)
        ring = np.concatenate([ends[0], ends[1][::-1]])
        first = rng.uniform(-0.1, 0.5) * long
        ring[:, 0] = np.maximum(ring[:, 0], first)
        points = ring if across else ring[:, ::-1]
        layer = image.copy()
        cv2.fillPoly(layer, [np.round(points).astype(np.int32)], _tone(rng), cv2.LINE_AA)
        if rng.random() < 0.4:
            layer = cv2.GaussianBlur(layer, (0, 0), rng.uniform(1, 6))
        share = rng.uniform(0.6, 1.0)
        image[:] = (share * layer + (1 - share) * image).astype(np.uint8)


def _blobs(image: np.ndarray, rng: np.random.Generator) -> None:
    height, width = image.shape[:2]
    for _ in range(int(rng.integers(1, 5))):
        turn = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(5, 14))))
        radius = rng.uniform(0.08, 0.4) * max(width, height) * rng.uniform(0.5, 1.2, len(turn))
        middle = rng.uniform(0, 1, 2) * (width, height)
        ring = middle + np.stack([np.cos(turn), np.sin(turn)], 1) * radius[:, None]
        tone = (255, 255, 255) if rng.random() < 0.2 else _tone(rng)
        cv2.fillPoly(image, [np.round(ring).astype(np.int32)], tone, cv2.LINE_AA)


def bent(
    pixels: np.ndarray, rings: list[np.ndarray], rng: np.random.Generator
) -> tuple[np.ndarray, list[np.ndarray]]:
    """Page and rings bent by a smooth random field, as a shaky hand would have drawn them."""
    rows, columns = pixels.shape[:2]
    count = int(rng.integers(4, 14))
    amount = rng.uniform(0.001, 0.02 / count) * rows * 2
    coarse = rng.normal(size=(count, max(3, round(count * columns / rows)), 2)) * amount
    # Nothing moves across the page's own edge.
    coarse[[0, -1], :, 1] = 0
    coarse[:, [0, -1], 0] = 0
    field = cv2.resize(coarse.astype(np.float32), (columns, rows), interpolation=cv2.INTER_CUBIC)
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float32)
    warped = cv2.remap(
        pixels, x + field[..., 0], y + field[..., 1], cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    moved = []
    for ring in rings:
        run = np.roll(ring, -1, axis=0) - ring
        share = np.linspace(0, 1, 12, endpoint=False)
        points = (ring[:, None] + share[:, None] * run[:, None]).reshape(-1, 2)
        place = np.clip(points.astype(int), 0, (columns - 1, rows - 1))
        shifted = points - field[place[:, 1], place[:, 0]]
        at_low, at_high = points < 2, points > np.array([columns, rows]) - 2
        moved.append(np.where(at_low | at_high, points, shifted))
    return warped, moved
