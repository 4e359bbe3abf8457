"""From a region of art to the straight frame around it: robust side fits and corners.

A panel's outline is seldom seen whole: figures break out of it and balloons open into the
gutter beside it. Each side is therefore the straight line that the most outline points
agree with exactly; points outside it (art that bursts out) speak against a line more than
points inside it (a notch where a white balloon or caption hides the side).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np


@dataclass(frozen=True, slots=True)
class FitSettings:
    """Side fits. Lengths in thousandths of the page's long side."""

    agree: float = 1.6
    burst_cost: float = 0.9
    notch_cost: float = 0.35
    most_points: int = 100
    most_lines: int = 130
    steepest: float = 0.75
    plain: float = 0.97


@dataclass(frozen=True, slots=True)
class SideFit:
    """A straight side as ``across = offset + slope * along``, with its agreement.

    Parameters
    ----------
    offset, slope : float
        For top and bottom ``along`` is x and ``across`` is y; for left and right the other
        way round.
    support : float
        Share of the side's points that lie on the line.
    residual : float
        RMS distance of those points from it, in pixels.
    """

    offset: float
    slope: float
    support: float
    residual: float

    def at(self, along: float) -> float:
        """Across position of the line at an along position."""
        return self.offset + self.slope * along


def region_profiles(region: np.ndarray) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Outermost edge of a 0/1 region seen from its four sides.

    Parameters
    ----------
    region : ndarray of uint8 or bool, shape (M, N)
        1 inside the region, else 0.

    Returns
    -------
    dict of str to (along, across)
        For ``"left"``, ``"top"``, ``"right"``, ``"bottom"``: edge positions, float64, with
        edges on whole numbers and ``along`` at pixel centres.
    """
    x, y, width, height = cv2.boundingRect(region.view(np.uint8))
    inside = region.view(np.uint8)[y : y + height, x : x + width]
    # Most rows and columns begin near the region's side: a strip there is looked at first.
    wide, deep = width // 12 + 1, height // 12 + 1
    left, rows = _first(inside[:, :wide], lambda k: inside[k])
    top, columns = _first(cv2.transpose(inside[:deep]), lambda k: inside.T[k])
    right, _ = _first(cv2.flip(inside[:, -wide:], 1), lambda k: inside[k, ::-1])
    beneath = cv2.flip(cv2.transpose(inside[-deep:]), 1)
    bottom, _ = _first(beneath, lambda k: inside.T[k, ::-1])
    right, bottom = width - right, height - bottom
    along_x, along_y = x + columns + 0.5, y + rows + 0.5
    return {
        "left": (along_y, x + left),
        "top": (along_x, y + top),
        "right": (along_y, x + right),
        "bottom": (along_x, y + bottom),
    }


def _first(
    near: np.ndarray, whole: Callable[[np.ndarray], np.ndarray]
) -> tuple[np.ndarray, np.ndarray]:
    """First place in each row that has any pixel, as float64, and those rows.

    `near` holds the beginning of every row; `whole` gives the rows asked for in full.
    """
    first = near.view(np.bool_).argmax(axis=1)
    hit = (first > 0) | near[:, 0].view(np.bool_)
    waiting = np.flatnonzero(~hit)
    if len(waiting):
        rest = whole(waiting).view(np.bool_)
        first[waiting] = rest.argmax(axis=1)
        hit[waiting] = (first[waiting] > 0) | rest[:, 0]
    rows = np.flatnonzero(hit)
    return first[rows].astype(np.float64), rows


def fit_side(
    along: np.ndarray, across: np.ndarray, outward: int, unit: float, s: FitSettings
) -> SideFit:
    """Straight side through an outermost edge.

    Parameters
    ----------
    along, across : ndarray of float64, shape (K,)
        Points of the edge, K >= 2, sorted by ``along``.
    outward : int
        -1 where outside means a smaller ``across`` (left, top), else 1.
    unit : float
        Pixels in a thousandth of the page's long side.
    s : FitSettings

    Returns
    -------
    SideFit
    """
    tight = max(1.0, s.agree * unit)
    step = max(1, len(along) // s.most_points)
    a, c = along[step // 2 :: step], across[step // 2 :: step]
    plain = _plain_line(a, c, tight, s)
    if plain is not None:
        return _refined(along, across, *plain, tight)
    offsets, slopes = _lines(a, c, s)
    # In units of the tolerance, single precision: many lines against many points.
    scale = outward / tight
    middle = a[len(a) // 2]
    inner = np.stack(
        [np.full(len(slopes), scale), -scale * (offsets + slopes * middle), -scale * slopes], axis=1
    )
    points = np.stack([c, np.ones(len(a)), a - middle])
    stray = inner.astype(np.float32) @ points.astype(np.float32)
    burst = np.count_nonzero(stray > 1.5, axis=1)
    notched = np.count_nonzero(stray < -1.5, axis=1)
    np.subtract(np.float32(1.5), np.abs(stray, out=stray), out=stray)
    worth = np.clip(stray, 0, 1, out=stray).sum(axis=1)
    worth = worth - s.burst_cost * burst - s.notch_cost * notched
    score = worth / len(a) - 0.05 * np.abs(slopes)
    best = int(np.argmax(score))
    return _refined(along, across, offsets[best], slopes[best], tight)


def _plain_line(
    a: np.ndarray, c: np.ndarray, tight: float, s: FitSettings
) -> tuple[float, float] | None:
    """Line that next to all points lie on, found at once; None where there is none."""
    third = len(a) // 3
    if third < 3:
        return None
    middle = third // 2
    start, end = np.sort(c[:third])[middle], np.sort(c[-third:])[middle]
    slope = (end - start) / (a[middle - third] - a[middle])
    offset = start - slope * a[middle]
    near = np.count_nonzero(np.abs(c - offset - slope * a) <= 0.5 * tight)
    if near < s.plain * len(a) or abs(slope) > s.steepest:
        return None
    return float(offset), float(slope)


def _lines(a: np.ndarray, c: np.ndarray, s: FitSettings) -> tuple[np.ndarray, np.ndarray]:
    """Lines through pairs of points, near and far, plus the level ones."""
    i, j, ranks = _pairs(len(a), s.most_lines)
    run = a[j] - a[i]
    slopes = (c[j] - c[i]) / np.where(run == 0, 1, run)
    keep = np.abs(slopes) <= s.steepest
    offsets = c[i] - slopes * a[i]
    return (
        np.concatenate([offsets[keep], np.sort(c)[ranks]]),
        np.concatenate([slopes[keep], np.zeros(len(ranks))]),
    )


@lru_cache(maxsize=256)
def _pairs(n: int, most_lines: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points to draw lines through, first and second, and ranks of points for level lines."""
    firsts, seconds = [], []
    for share in (0.12, 0.25, 0.5, 0.8):
        gap = max(1, int(share * (n - 1)))
        starts = np.arange(0, n - gap, max(1, (n - gap) * 4 // most_lines))
        firsts.append(starts)
        seconds.append(starts + gap)
    ranks = np.linspace(0, n - 1, 21).astype(int)
    return np.concatenate(firsts), np.concatenate(seconds), ranks


def _refined(a: np.ndarray, c: np.ndarray, offset: float, slope: float, tight: float) -> SideFit:
    """Least squares through the points that agree, twice."""
    for reach in (1.5 * tight, 1.2 * tight):
        on = np.abs(_strays(a, c, offset, slope)) <= reach
        # Most sides are agreed on by all their points.
        x, y = (a, c) if on.all() else (a[on], c[on])
        if len(x) < 3 or x[-1] - x[0] < 2:
            break
        mean_x = float(np.add.reduce(x)) / len(x)
        off = x - mean_x
        slope = float(off @ y) / float(off @ off)
        offset = float(np.add.reduce(y)) / len(y) - slope * mean_x
    stray = _strays(a, c, offset, slope)
    near = stray[np.abs(stray) <= 1.5 * tight]
    residual = float(np.sqrt(near @ near / len(near))) if len(near) else float("inf")
    return SideFit(float(offset), float(slope), len(near) / len(stray), residual)


def _strays(a: np.ndarray, c: np.ndarray, offset: float, slope: float) -> np.ndarray:
    """How far points lie from a line."""
    stray = a * -slope
    stray += c
    stray -= offset
    return stray


def _without_cut_points(
    profiles: dict[str, tuple[np.ndarray, np.ndarray]], art: np.ndarray, corner: tuple[int, ...]
) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Profiles without the points beyond which the art goes on: there it was cut off."""
    kept = {}
    for name, (along, across) in profiles.items():
        beyond = across - 2.5 if name in ("left", "top") else across + 1.5
        place = (beyond, along) if name in ("left", "right") else (along, beyond)
        x = np.floor(place[0]).astype(int) + corner[0]
        y = np.floor(place[1]).astype(int) + corner[1]
        inside = (x >= 0) & (y >= 0) & (x < art.shape[1]) & (y < art.shape[0])
        goes_on = np.zeros(len(along), dtype=bool)
        goes_on[inside] = art[y[inside], x[inside]] > 0
        enough = (~goes_on).sum() >= max(8, 0.12 * len(along))
        kept[name] = (along[~goes_on], across[~goes_on]) if enough else (along, across)
    return kept


def fit_quad(
    region: np.ndarray,
    unit: float,
    settings: FitSettings | None = None,
    art: np.ndarray | None = None,
    corner: tuple[int, ...] = (0, 0),
) -> tuple[np.ndarray, dict[str, SideFit]] | None:
    """Four-sided frame around a region.

    Parameters
    ----------
    region : ndarray of uint8 or bool, shape (M, N)
        1 inside the region, else 0.
    unit : float
        Pixels in a thousandth of the page's long side.
    settings : FitSettings or None
    art : ndarray or None
        Art of the whole page, where the region was cut out of it: edge points beyond which
        the art goes on say nothing of the side.
    corner : tuple of int
        Column and row of the region's first pixel in ``art``.

    Returns
    -------
    (corners, fits) or None
        Corners as float64 of shape (4, 2): top left, top right, bottom right, bottom left;
        the fit of each side by name. None if the region is too small or no frame closes.

    Examples
    --------
    >>> region = np.zeros((60, 80), dtype=np.uint8)
    >>> region[10:50, 20:70] = 1
    >>> corners, fits = fit_quad(region, unit=0.1)
    >>> corners.round(6).tolist()
    [[20.0, 10.0], [70.0, 10.0], [70.0, 50.0], [20.0, 50.0]]
    """
    s = settings or FitSettings()
    profiles = region_profiles(region)
    if min(len(p[0]) for p in profiles.values()) < 4:
        return None
    if art is not None:
        profiles = _without_cut_points(profiles, art, corner)
    outward = {"left": -1, "top": -1, "right": 1, "bottom": 1}
    fits = {n: fit_side(a, c, outward[n], unit, s) for n, (a, c) in profiles.items()}
    corners = quad_corners(fits)
    return None if corners is None else (corners, fits)


def quad_corners(fits: dict[str, SideFit]) -> np.ndarray | None:
    """Corners where the four sides meet, shape (4, 2); None if they cross over."""
    left, top, right, bottom = (fits[n] for n in ("left", "top", "right", "bottom"))
    corners = np.array(
        [_meet(top, left), _meet(top, right), _meet(bottom, right), _meet(bottom, left)]
    )
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = corners
    if x1 - x0 < 2 or x2 - x3 < 2 or y3 - y0 < 2 or y2 - y1 < 2:
        return None
    return corners


def _meet(level: SideFit, upright: SideFit) -> tuple[float, float]:
    """Point on a level side ``y = o + s x`` and an upright one ``x = p + t y``."""
    # Side slopes are limited where they are chosen; the refined ones may meet at infinity.
    denominator = max(1 - level.slope * upright.slope, 0.05)
    y = (level.offset + level.slope * upright.offset) / denominator
    return upright.at(y), y
