"""Balloons and captions: the patch of light paper round a block of text-like marks.

A closed balloon is found as it is, outline and tail included. One that opens onto the gutter,
or has no outline at all, ends a little way off its lettering.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.vision.letter_marks import Marks, find_marks, grouped, text_likeness

LONG_SIDE_PX = 1200
LEAST_LIKENESS = 0.7
SURE_LIKENESS = 0.75
MOST_PAGE_SHARE = 0.12
LEAST_TEXT_SHARE = 0.12
LETTERS_IN_THE_OPEN = 6


@dataclass(frozen=True, eq=False)
class Balloon:
    """A balloon or caption at working size.

    Parameters
    ----------
    mask : ndarray of uint8, shape (H, W)
        1 inside, on the box only.
    origin : tuple of int
        Column and row of the box's corner.
    closed : bool
        Whether an outline or a change of tone closes it all round.
    likeness : float
        How much its marks look like lettering, 0..1.
    """

    mask: np.ndarray
    origin: tuple[int, int]
    closed: bool
    likeness: float


def find_balloons(gray: np.ndarray, white: np.ndarray | None = None) -> list[Balloon]:
    """Balloons and captions of a page.

    Parameters
    ----------
    gray : ndarray of uint8, shape (M, N)
        The page at working size (about 1,200 pixels).
    white : ndarray of float32, shape (M, N), or None
        Its `letter_marks.white_level`, if that is known already.

    Returns
    -------
    list of Balloon
        In no particular order; all lettering in one closed balloon gives one.
    """
    marks = find_marks(gray, white)
    if not len(marks.boxes):
        return []
    groups = grouped(marks)
    balloons = []
    for region in np.unique(marks.region):
        parts = [g for g in groups if marks.region[g[0]] == region]
        closed = _closed_balloon(marks, int(region), parts)
        if closed is not None:
            balloons.append(closed)
            continue
        for part in parts:
            opened = _open_balloon(marks, int(region), part)
            if opened is not None:
                balloons.append(opened)
    return balloons


def _closed_balloon(marks: Marks, region: int, parts: list[np.ndarray]) -> Balloon | None:
    """Balloon that is a whole light region, if its marks are lettering and fill enough of it."""
    inside = np.concatenate(parts)
    likeness = text_likeness(marks.boxes[inside], marks.fill[inside])
    if likeness < LEAST_LIKENESS:
        return None
    pad = 4
    shape = marks.paper.shape
    x, y, width, depth = cv2.boundingRect((marks.paper == region).view(np.uint8))
    if x == 0 or y == 0 or x + width == shape[1] or y + depth == shape[0]:
        return None
    top, left = max(0, y - pad), max(0, x - pad)
    window = (slice(top, y + depth + pad), slice(left, x + width + pad))
    mask = _filled((marks.paper[window] == region).astype(np.uint8))
    height = float(np.median(marks.boxes[inside, 3]))
    body = _body(mask, height)
    area = cv2.countNonZero(body)
    if area > MOST_PAGE_SHARE * shape[0] * shape[1]:
        return None
    text = int((marks.boxes[inside, 2] * marks.boxes[inside, 3]).sum())
    if text < LEAST_TEXT_SHARE * area or _solidity(body) < 0.72:
        return None
    if _other_ink(marks, window, mask, inside):
        return None
    return Balloon(_grown(mask, 1.5), (int(left), int(top)), True, likeness)


def _solidity(body: np.ndarray) -> float:
    """Share of its convex hull that a 0/1 mask fills."""
    contours, _ = cv2.findContours(body, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not contours:
        return 0.0
    hull = cv2.convexHull(np.concatenate(contours))
    return cv2.countNonZero(body) / max(1.0, cv2.contourArea(hull))


def _other_ink(
    marks: Marks, window: tuple[slice, slice], mask: np.ndarray, inside: np.ndarray
) -> bool:
    """Whether most of the ink within a region is not its lettering (a face, a window)."""
    ink = marks.ink[window]
    within = ink[_shrunk(mask, 2) > 0]
    within = within[within > 0]
    letters = np.isin(within, marks.index[inside])
    return bool(len(within) and letters.mean() < 0.6)


def _open_balloon(marks: Marks, region: int, part: np.ndarray) -> Balloon | None:
    """Balloon that runs out into the gutter: as far as a letter's height off its lettering."""
    boxes = marks.boxes[part]
    if len(part) < LETTERS_IN_THE_OPEN:
        return None
    likeness = text_likeness(boxes, marks.fill[part])
    if likeness < SURE_LIKENESS:
        return None
    height = float(np.median(boxes[:, 3]))
    corners = np.concatenate([boxes[:, :2], boxes[:, :2] + boxes[:, 2:]])
    corners = np.concatenate([corners, np.stack([corners[:, 0], corners[::-1, 1]], axis=1)])
    reach = round(1.3 * height) + 2
    left, top = np.maximum(corners.min(axis=0) - reach, 0)
    right, bottom = corners.max(axis=0) + reach
    window = (slice(top, bottom), slice(left, right))
    paper = (marks.paper[window] == region).astype(np.uint8)
    seed = np.zeros(paper.shape, np.uint8)
    hull = cv2.convexHull((corners - np.array([left, top])).astype(np.int32))
    cv2.fillPoly(seed, [hull], 1)
    covered = float((boxes[:, 2] * boxes[:, 3]).sum()) / max(1, int(seed.sum()))
    if covered < 0.3 or paper[seed > 0].mean() < 0.3:
        return None
    mask = _filled((_grown(seed, 0.9 * height) & (paper | seed)).astype(np.uint8))
    return Balloon(mask, (int(left), int(top)), False, likeness)


def _disk(radius: float) -> np.ndarray:
    size = 2 * max(1, round(radius)) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)))


def _grown(mask: np.ndarray, radius: float) -> np.ndarray:
    return np.asarray(cv2.dilate(mask, _disk(radius)))


def _shrunk(mask: np.ndarray, radius: float) -> np.ndarray:
    return np.asarray(cv2.erode(mask, _disk(radius)))


def _body(mask: np.ndarray, height: float) -> np.ndarray:
    """Balloon without its tail: largest part that is wider than a letter."""
    opened = cv2.morphologyEx(mask, cv2.MORPH_OPEN, _disk(0.45 * height))
    count, labels = cv2.connectedComponents(opened, connectivity=4)
    if count < 2:
        return mask
    if count == 2:
        return np.asarray(opened)
    largest = int(np.argmax(np.bincount(labels.ravel())[1:])) + 1
    return np.asarray(labels == largest).view(np.uint8)


def _filled(region: np.ndarray) -> np.ndarray:
    contours, _ = cv2.findContours(region, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return np.asarray(cv2.drawContours(np.zeros_like(region), contours, -1, 1, cv2.FILLED))
