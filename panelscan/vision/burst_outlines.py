"""Outlines of bursts: from a piece of art at working size to a ring in source pixels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
import shapely

from panelscan.model.outline import Outline, common_area
from panelscan.model.panel import PageFinding
from panelscan.vision.burst_joins import Frame, Piece
from panelscan.vision.working import Working

SIMPLE = 0.8
"""How far an outline may be simplified, in thousandths of the page's long side."""
STAIRS = 0.4
"""Steps of a contour in pixels that are no shape, only its drawing on a raster."""
MOST_LETTERED = 0.6
"""A burst of which balloons and captions cover a greater share is one of them."""
_NEAREST = np.ones((3, 3), np.uint8)
_SHIFT = 4
"""Fraction bits of the coordinates that rings are drawn with."""


def grown(ring: np.ndarray, by: float) -> np.ndarray:
    """Ring of shape (K, 2), positive shoelace area, with every side moved outward.

    No corner may be given twice.

    Examples
    --------
    >>> square = np.array([[1.0, 1], [3, 1], [3, 3], [1, 3]])
    >>> grown(square, 1.0).tolist()
    [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]]
    """
    run = np.concatenate([ring[1:], ring[:1]]) - ring
    normal = np.stack([run[:, 1], -run[:, 0]], axis=1) / np.hypot(*run.T)[:, None]
    before = np.concatenate([normal[-1:], normal[:-1]])
    # Where both sides of a corner meet again; no farther out than about five times the move.
    turn = np.maximum(1.0 + (before * normal).sum(axis=1), 0.2)
    return np.asarray(ring + by * (before + normal) / turn[:, None])


def fill_ring(image: np.ndarray, ring: np.ndarray, by: float, value: int) -> None:
    """Fill a ring grown by some pixels, edges on whole numbers, with a value (in place).

    OpenCV fills whatever its line touches, so the line runs half a pixel farther in.
    """
    fixed = np.round((grown(ring, by - 0.5) - 0.5) * 2**_SHIFT).astype(np.int32)
    cv2.fillPoly(image, [fixed], value, cv2.LINE_8, _SHIFT)


def burst_outline(
    piece: Piece, host: int, frames: Sequence[Frame], work: Working, distance: np.ndarray
) -> Outline | None:
    """Outline of a burst.

    Parameters
    ----------
    piece : Piece
        The art outside of all panels and their borders.
    host : int
        Panel that it bursts out of.
    frames : sequence of Frame
        All panels.
    work : Working
        The page at working size.
    distance : ndarray of uint8, shape (M, N)
        Colour distance of each working pixel from the ground.

    Returns
    -------
    Outline or None
        In source pixels, from the host's outline on, up to the borders of other panels, holes
        filled; None where nothing is left.
    """
    mask, at = _closed_up(piece, _sharpened(piece, distance), host, frames)
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not contours:
        return None
    contour = cv2.approxPolyDP(max(contours, key=cv2.contourArea), STAIRS, True)[:, 0]
    if len(contour) < 3:
        return None
    # OpenCV's contour runs through the outermost pixels' middles: half a pixel inside the edge.
    shape = shapely.Polygon(contour + 0.5 + at).buffer(0.5, join_style="mitre")
    ring = np.asarray(_largest(shape.simplify(SIMPLE * work.unit_px)).exterior.coords)
    # The page's edge is an end of it; so is the host's outline, which may bend inward.
    source = shapely.Polygon(work.source_points(np.clip(ring, 0, work.size))).buffer(0)
    left = _largest(source.difference(shapely.Polygon(work.source_points(frames[host].ring))))
    return Outline.from_shape(left) if left.area > 0 else None


def without_lettering(finding: PageFinding) -> PageFinding:
    """A finding whose bursts are no balloons or captions that straddle a border.

    Parameters
    ----------
    finding : PageFinding
        With ``balloons`` filled in, in source pixels.

    Returns
    -------
    PageFinding
        The same without the bursts that lie mostly in balloons; a figure that holds a balloon
        over the border as its lesser part stays whole.

    Examples
    --------
    >>> from panelscan.model.panel import Ground, GroundKind, Panel
    >>> page, ground = Outline.box(0, 0, 60, 90), Ground(GroundKind.WHITE, (255, 255, 255))
    >>> balloon, head = Outline.box(10, 5, 20, 10), Outline.box(30, 5, 40, 10)
    >>> panel = Panel(Outline.box(10, 10, 50, 80), burst=(balloon, head))
    >>> finding = PageFinding(page, 0.0, ground, (panel,), 1.0, balloons=(balloon,))
    >>> without_lettering(finding).panels[0].burst == (head,)
    True
    """
    if not finding.balloons or not any(p.burst for p in finding.panels):
        return finding
    # Balloons may overlap each other: what two of them cover counts once.
    lettered = shapely.union_all([b.shape for b in finding.balloons])

    def is_art(burst: Outline) -> bool:
        return common_area(burst.shape, lettered) <= MOST_LETTERED * burst.area

    panels = tuple(
        replace(p, burst=tuple(b for b in p.burst if is_art(b))) if p.burst else p
        for p in finding.panels
    )
    return replace(finding, panels=panels)


def _sharpened(piece: Piece, distance: np.ndarray) -> np.ndarray:
    """Mask of a piece without the outer half of its blurred edge on the ground."""
    (x, y), (rows, columns) = piece.origin, piece.mask.shape
    window = np.ascontiguousarray(distance[y : y + rows, x : x + columns])
    free = cv2.bitwise_and(1 - piece.mask, (piece.owner == 0).view(np.uint8))
    weak = (cv2.add(window, window) < cv2.dilate(window, _NEAREST)).view(np.uint8)
    return np.asarray(cv2.subtract(piece.mask, cv2.bitwise_and(cv2.dilate(free, _NEAREST), weak)))


def _closed_up(
    piece: Piece, art: np.ndarray, host: int, frames: Sequence[Frame]
) -> tuple[np.ndarray, np.ndarray]:
    """The art with the strips of border between it and its panels; and its window's corner."""
    pad = max(int(np.ceil(2 * frames[k].margin)) for k in piece.touched) + 3
    body = cv2.copyMakeBorder(art, pad, pad, pad, pad, cv2.BORDER_CONSTANT)
    at = np.array(piece.origin) - pad
    mask, hidden = body.copy(), np.zeros_like(body)
    for k in piece.touched:
        core = np.zeros_like(body)
        fill_ring(core, frames[k].ring - at, 0.0 if k == host else frames[k].half, 1)
        size = 2 * int(np.ceil(frames[k].margin)) + 3
        brush = np.ones((size, size), np.uint8)
        both = cv2.morphologyEx(cv2.bitwise_or(body, core), cv2.MORPH_CLOSE, brush)
        mask = cv2.bitwise_or(mask, both)
        hidden = cv2.bitwise_or(hidden, core)
    return cv2.subtract(mask, hidden), at


def _largest(shape: shapely.Geometry) -> shapely.Geometry:
    return max(getattr(shape, "geoms", [shape]), key=lambda part: part.area)
