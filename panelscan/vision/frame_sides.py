"""Four straight sides round a mask, and the quadrilateral they make."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

Line = tuple[np.ndarray, np.ndarray]
NEAR_EDGE_SHARE = 0.006


def fitted_sides(mask: np.ndarray) -> list[Line]:
    """Lines along the top, right, bottom and left of a mask.

    Parameters
    ----------
    mask : ndarray of uint8, shape (M, N)
        1 inside.

    Returns
    -------
    list of (point, point)
        In that order, each in the sense of a ring that is counterclockwise in stored numbers
        (top runs right, left runs up); pixels, edges on whole numbers.

    Notes
    -----
    From each side the first pixel of the mask is looked up in every column (row); the line
    that most of these first pixels lie near wins, so specks, punched holes and torn corners
    do not pull it.
    """
    rows, columns = mask.shape
    top, across = _first(mask)
    bottom, _ = _first(mask[::-1])
    left, down = _first(mask.T)
    right, _ = _first(mask.T[::-1])
    t, b = _line(across, top), _line(across, rows - bottom)
    le, r = _line(down, left), _line(down, columns - right)
    x, y = np.array([0.0, columns]), np.array([0.0, rows])
    return [
        (np.array([x[0], _at(t, x[0])]), np.array([x[1], _at(t, x[1])])),
        (np.array([_at(r, y[0]), y[0]]), np.array([_at(r, y[1]), y[1]])),
        (np.array([x[1], _at(b, x[1])]), np.array([x[0], _at(b, x[0])])),
        (np.array([_at(le, y[1]), y[1]]), np.array([_at(le, y[0]), y[0]])),
    ]


def _first(mask: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """First row of the mask in each column where there is one, and those columns' middles."""
    some = np.flatnonzero(mask.any(axis=0))
    return mask[:, some].argmax(axis=0).astype(np.float64), some + 0.5


def _line(along: np.ndarray, across: np.ndarray) -> tuple[float, float]:
    """Offset and slope of the line most points lie near."""
    if len(along) < 8:
        return float(np.median(across)) if len(across) else 0.0, 0.0
    inner = slice(len(along) // 25, len(along) - len(along) // 25)
    u, v = along[inner], across[inner]
    level = float(np.median(v))
    if np.abs(v - level).max() <= 0.5:
        return level, 0.0
    pick = np.unique(np.linspace(0, len(u) - 1, 40).astype(np.intp))
    first, second = np.triu_indices(len(pick), k=len(pick) // 4)
    first, second = pick[first], pick[second]
    slope = (v[second] - v[first]) / (u[second] - u[first])
    offset = v[first] - slope * u[first]
    every = np.linspace(0, len(u) - 1, 160).astype(np.intp)
    off = np.abs(v[every] - offset[:, None] - slope[:, None] * u[every])
    best = int(np.argmin(np.minimum(off, 2.5).sum(axis=1)))
    near = np.abs(v - offset[best] - slope[best] * u) <= 1.6
    if near.sum() < 6:
        return float(offset[best]), float(slope[best])
    x, y = u[near] - u[near].mean(), v[near]
    tilt = float(x @ y) / float(x @ x)
    return float(y.mean()) - tilt * float(u[near].mean()), tilt


def _at(line: tuple[float, float], place: float) -> float:
    return line[0] + line[1] * float(place)


def quad_of_sides(lines: Sequence[Line], shape: tuple[int, ...]) -> np.ndarray | None:
    """Corners (4, 2), from top left on, where neighbouring lines meet.

    None where they do not make a convex quadrilateral. Sides near the image's edge are laid
    on it, and corners outside the image are brought back to it.
    """
    rows, columns = shape[:2]
    corners = []
    for (a, b), (c, d) in zip([lines[3], *lines[:3]], lines, strict=True):
        u, w = b - a, d - c
        cross = u[0] * w[1] - u[1] * w[0]
        if abs(cross) < 0.2 * np.hypot(*u) * np.hypot(*w):
            return None
        corners.append(a + u * (((c - a)[0] * w[1] - (c - a)[1] * w[0]) / cross))
    quad = np.array(corners)
    slack = NEAR_EDGE_SHARE * max(rows, columns)
    for i, at_edge in enumerate(touches_image(quad, shape)):
        if at_edge:
            axis, to = [(1, 0.0), (0, columns), (1, rows), (0, 0.0)][i]
            quad[[i, (i + 1) % 4], axis] = to
    if (quad < -8 * slack).any() or (quad > np.array([columns, rows]) + 8 * slack).any():
        return None
    quad = np.clip(quad, 0, [columns, rows])
    run = np.roll(quad, -1, axis=0) - quad
    after = np.roll(run, -1, axis=0)
    turn = run[:, 0] * after[:, 1] - run[:, 1] * after[:, 0]
    return quad if (turn > 0).all() else None


def touches_image(quad: np.ndarray, shape: tuple[int, ...]) -> list[bool]:
    """Which sides (top, right, bottom, left) run along the image's edge."""
    rows, columns = shape[:2]
    slack = NEAR_EDGE_SHARE * max(rows, columns)
    x, y = quad[:, 0], quad[:, 1]
    return [
        bool(max(y[0], y[1]) <= slack),
        bool(min(x[1], x[2]) >= columns - slack),
        bool(min(y[2], y[3]) >= rows - slack),
        bool(max(x[3], x[0]) <= slack),
    ]
