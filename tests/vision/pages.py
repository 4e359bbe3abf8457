"""Small pages drawn for the finder's tests: frames of our own on a ground of any tone."""

from __future__ import annotations

import cv2
import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.vision.detector import find_panels


def blank(width: int = 620, height: int = 880, tone: int = 255) -> np.ndarray:
    return np.full((height, width), tone, np.uint8)


def frame(
    page: np.ndarray, ring: list[tuple[float, float]], ink: int = 0, fill: int = 215, thick: int = 4
) -> None:
    """Draw a bordered panel whose border's middle runs along a ring (edges on whole numbers)."""
    points = [np.round((np.array(ring) - 0.5) * 16).astype(np.int32)]
    cv2.fillPoly(page, points, fill, cv2.LINE_AA, 4)
    cv2.polylines(page, points, True, ink, thick, cv2.LINE_AA, 4)


def box(x0: float, y0: float, x1: float, y1: float) -> list[tuple[float, float]]:
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def image(page: np.ndarray) -> PageImage:
    return PageImage(page, page.shape[1], page.shape[0])


def found(page: np.ndarray) -> list[Outline]:
    """Outlines found, from top left to bottom right."""
    panels = find_panels(image(page)).panels
    return sorted((p.outline for p in panels), key=lambda o: (round(o.bounds[1] / 40), o.bounds[0]))


def worst_match(true: list[list[tuple[float, float]]], outlines: list[Outline]) -> float:
    """Least IoU over the true panels with the best of those found; 0 if the counts differ."""
    if len(true) != len(outlines):
        return 0.0
    return min(max(Outline.of(t).iou(o) for o in outlines) for t in true)
