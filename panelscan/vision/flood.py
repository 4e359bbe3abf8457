"""Masks: what is joined to the image's edge, holes filled, and the round brush for both."""

from __future__ import annotations

import cv2
import numpy as np


def disk(radius: int) -> np.ndarray:
    """Round structuring element of the given radius in pixels."""
    size = (2 * radius + 1, 2 * radius + 1)
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, size))


def flood_from_edge(mask: np.ndarray) -> np.ndarray:
    """Part of a 0/1 mask that is joined to the image's edge, as uint8 of the same shape."""
    padded = cv2.copyMakeBorder(mask, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=1)
    cv2.floodFill(padded, None, (0, 0), 2, flags=4)
    return np.asarray(padded[1:-1, 1:-1] == 2).view(np.uint8)


def filled(region: np.ndarray) -> np.ndarray:
    """A 0/1 mask with its holes filled, uint8."""
    contours, _ = cv2.findContours(region, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    return np.asarray(cv2.drawContours(np.zeros_like(region), contours, -1, 1, cv2.FILLED))
