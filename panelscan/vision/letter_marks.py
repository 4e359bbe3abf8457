"""Text-like marks: small strokes of one height in rows on a patch of light paper.

Approximate on purpose: nothing is read, only its look counts. Works at about 1,200 pixels
for the page's long side, where a letter is some 5 to 30 pixels tall. The chain (strokes,
letters, rows, blocks) is that of component-based page segmentation (L. O'Gorman 1993, "The
document spectrum for page layout analysis", IEEE TPAMI 15:1162-1173; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.vision.shrinking import shrunk


@dataclass(frozen=True, slots=True)
class MarkSettings:
    """What looks like lettering; lengths in thousandths of the page's long side."""

    bright_share: float = 0.85
    least_light: float = 115.0
    ink_share: float = 0.72
    least_height: float = 4.0
    most_height: float = 26.0
    most_width: float = 70.0
    most_gap: float = 0.95
    row_gap: float = 1.0
    alike: float = 1.9
    most_fill: float = 0.92


@dataclass(frozen=True, eq=False)
class Marks:
    """Strokes of a letter's size on light paper, at working size.

    Parameters
    ----------
    paper : ndarray of int32, shape (M, N)
        Number of the light region at each pixel, 0 on what is not light.
    ink : ndarray of int32, shape (M, N)
        Number of the dark stroke at each pixel, 0 elsewhere.
    index : ndarray of int, shape (K,)
        Numbers of the strokes that have a letter's size.
    boxes : ndarray of int, shape (K, 4)
        Their boxes: column, row, width, height.
    fill : ndarray of shape (K,)
        Share of the box that is ink.
    region : ndarray of int, shape (K,)
        Light region each lies on.
    """

    paper: np.ndarray
    ink: np.ndarray
    index: np.ndarray
    boxes: np.ndarray
    fill: np.ndarray
    region: np.ndarray


def find_marks(
    gray: np.ndarray, white: np.ndarray | None = None, settings: MarkSettings | None = None
) -> Marks:
    """Strokes of a letter's size and the light regions they lie on.

    Parameters
    ----------
    gray : ndarray of uint8, shape (M, N)
        The page at working size.
    white : ndarray of float32, shape (M, N), or None
        Its `white_level`, if that is known already.
    settings : MarkSettings or None

    Returns
    -------
    Marks
    """
    s = settings or MarkSettings()
    unit = max(gray.shape) / 1000.0
    level = white_level(gray) if white is None else white
    bright = (gray >= np.maximum(s.bright_share * level, s.least_light)).astype(np.uint8)
    dark = (gray < s.ink_share * level).astype(np.uint8)
    # Counting pixels by region takes four times as long as telling regions apart.
    _, paper = cv2.connectedComponents(bright, connectivity=4)
    _, ink, stats, _ = cv2.connectedComponentsWithStatsWithAlgorithm(
        dark, 8, cv2.CV_32S, cv2.CCL_BBDT
    )
    width, height, area = stats[:, 2], stats[:, 3], stats[:, 4]
    fits = (height >= s.least_height * unit) & (height <= s.most_height * unit)
    fits &= (width >= 1) & (width <= s.most_width * unit)
    fits[0] = False
    index = np.flatnonzero(fits)
    boxes = stats[index, :4].astype(np.int64)
    fill = area[index] / np.maximum(1, boxes[:, 2] * boxes[:, 3])
    region = _regions_beneath(paper, boxes)
    on = region > 0
    return Marks(paper, ink, index[on], boxes[on], fill[on], region[on])


def white_level(gray: np.ndarray) -> np.ndarray:
    """Gray of white paper at every place: light may fall off over the page. float32, (M, N)."""
    rows, columns = gray.shape
    # Averaging halves is many times as fast as averaging fractions of pixels.
    quarter, _ = shrunk(gray, (max(1, columns // 4), max(1, rows // 4)))
    small = cv2.resize(quarter, (24, 32), interpolation=cv2.INTER_AREA)
    # Cells smear ink into the paper, so each asks its whole neighbourhood for its lightest.
    peak = cv2.resize(cv2.dilate(gray, np.ones((5, 5), np.uint8))[::4, ::4], (24, 32))
    lightest = cv2.dilate(np.maximum(small, peak), np.ones((9, 9), np.uint8))
    smooth = cv2.GaussianBlur(lightest.astype(np.float32), (0, 0), 3)
    return np.asarray(cv2.resize(smooth, (columns, rows), interpolation=cv2.INTER_LINEAR))


def _regions_beneath(paper: np.ndarray, boxes: np.ndarray) -> np.ndarray:
    """Light region that most of eight places round each box lie on, 0 where fewer than five do."""
    rows, columns = paper.shape
    x0, y0, w, h = boxes.T
    places = []
    for fx, fy in ((0, 0), (0.5, 0), (1, 0), (0, 0.5), (1, 0.5), (0, 1), (0.5, 1), (1, 1)):
        x = np.clip(np.rint(x0 - 2 + fx * (w + 3)).astype(int), 0, columns - 1)
        y = np.clip(np.rint(y0 - 2 + fy * (h + 3)).astype(int), 0, rows - 1)
        places.append(paper[y, x])
    votes = np.stack(places, axis=1) if len(boxes) else np.zeros((0, 8), int)
    ordered = np.sort(votes, axis=1)
    # With five of eight votes equal, the value at both middle ranks is that one.
    same = (ordered[:, 3] == ordered[:, 4]) if len(boxes) else np.zeros(0, bool)
    middle = ordered[:, 3] if len(boxes) else np.zeros(0, int)
    count = (votes == middle[:, None]).sum(axis=1)
    return np.where(same & (count >= 5), middle, 0)


def grouped(marks: Marks, settings: MarkSettings | None = None) -> list[np.ndarray]:
    """Groups of marks on one region that stand beside or below each other, alike in height."""
    s = settings or MarkSettings()
    x0, y0, w, h = marks.boxes.T
    x1, y1 = x0 + w, y0 + h
    order = np.argsort(x0, kind="stable")
    lefts = x0[order]
    parent = np.arange(len(x0))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = int(parent[i])
        return i

    for i in range(len(x0)):
        last = np.searchsorted(lefts, x1[i] + s.most_gap * h[i], side="right")
        near = order[np.searchsorted(lefts, x0[i], side="left") : last]
        tall, short = np.maximum(h[near], h[i]), np.minimum(h[near], h[i])
        gap = np.maximum(y0[near], y0[i]) - np.minimum(y1[near], y1[i])
        close = (tall <= s.alike * short) & (gap <= s.row_gap * short)
        close &= marks.region[near] == marks.region[i]
        for j in near[close]:
            a, b = root(i), root(int(j))
            parent[max(a, b)] = min(a, b)
    roots = np.array([root(i) for i in range(len(x0))], dtype=np.intp)
    return [np.flatnonzero(roots == r) for r in np.unique(roots)]


def text_likeness(boxes: np.ndarray, fill: np.ndarray, most_fill: float = 0.92) -> float:
    """How much a group of marks looks like lettering, 0..1.

    Parameters
    ----------
    boxes : ndarray of int, shape (K, 4)
        Column, row, width, height.
    fill : ndarray of shape (K,)
        Share of each box that is ink.
    most_fill : float
        Fill above which a mark is a block, not a letter.

    Returns
    -------
    float
        Product of four shares, by the marks' widths: alike in height, close beside another
        mark of the same row (or as wide as a word), not a solid block, and enough of them.
    """
    x0, y0, w, h = (v.astype(np.float64) for v in boxes.T)
    height = float(np.median(np.repeat(h, np.maximum(1, w.astype(int)))))
    weight = w / w.sum()
    alike = (h > 0.6 * height) & (h < 1.5 * height)
    middle = y0 + h / 2
    gap = np.maximum(x0[:, None], x0[None]) - np.minimum((x0 + w)[:, None], (x0 + w)[None])
    same_row = np.abs(middle[:, None] - middle[None]) < 0.35 * height
    beside = (same_row & (gap < 0.75 * height) & (gap > -0.2 * height)).sum(axis=1) > 0
    word = w > 1.8 * height
    letterlike = fill < most_fill
    enough = min(1.0, (w.sum() / height) / 3.0)
    shares = [float(weight[part].sum()) for part in (alike, beside | word, letterlike)]
    return float(np.prod(shares) * enough)
