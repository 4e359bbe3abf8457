"""Where the fold of facing pages lies in one image, and whether art runs across it.

A fold is found as the one upright line near the middle where nothing of either page
crosses: a strip that changes along its length only by shading (two inner margins, with or
without the shadow or ridge of the fold), or a line where two different pictures meet.
The white-run idea is that of Stamatopoulos, Gatos and Georgiou (DAS 2010, page frame
detection for double page document images); the rest is our own.

Frame: a small gray image, column x covers x..x+1; rows run down.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import cv2
import numpy as np

HEIGHT_PX = 900
MIDDLE = (0.42, 0.58)
SLANTS_DEG = (0.0, 0.4, -0.4, 0.8, -0.8, 1.2, -1.2)
_BLOCKS = 15


@dataclass(frozen=True)
class Fold:
    """A fold found in an image.

    Parameters
    ----------
    x_share : float
        Its place at half height, as a share of the image's width.
    kind : str
        ``"margins"`` (a clean strip), ``"shadow"`` (a clean strip with the fold's own
        shading), or ``"meeting"`` (two pictures that meet at a line).
    """

    x_share: float
    kind: str


@dataclass(frozen=True)
class FoldReport:
    """The fold, or why none is cut at.

    Parameters
    ----------
    fold : Fold or None
        Where to cut; None where the image is to stay whole.
    reason : str
        For a person.
    measures : dict
        Figures behind the decision.
    """

    fold: Fold | None
    reason: str = ""
    measures: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class FoldSettings:
    """Tolerances of the search; shares are of the image's width unless said otherwise.

    Parameters
    ----------
    loud_share : float
        Share of a quiet column's rows that may differ from its own shading.
    least_strip : float
        Narrowest strip with a shadow.
    least_margins : float
        Narrowest strip without one.
    gutter_ratio, margin_ratio : float
        A strip without a shadow must be this many times as wide as the page's tier gutters,
        and as its outer margins.
    valley : float
        Least depth of a fold's shading, in gray levels.
    step_share : float
        Least share of rows with a sharp step where two pictures meet.
    """

    loud_share: float = 0.035
    least_strip: float = 0.004
    least_margins: float = 0.016
    gutter_ratio: float = 1.7
    margin_ratio: float = 0.8
    valley: float = 7.0
    step_share: float = 0.45


@dataclass(frozen=True)
class _Strip:
    """Quiet columns start..stop, and the column median over the page's rows there."""

    start: int
    stop: int
    profile: np.ndarray

    @property
    def width(self) -> int:
        return self.stop - self.start


def find_fold(pixels: np.ndarray, settings: FoldSettings | None = None) -> FoldReport:
    """Look for the fold of facing pages.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (M, N) or (M, N, 3)
        The whole image.
    settings : FoldSettings or None
        Tolerances.

    Returns
    -------
    FoldReport
    """
    gray = _small_gray(pixels)
    report = FoldReport(None, "art runs through the middle")
    for slant in SLANTS_DEG:
        search = _FoldSearch(_sheared(gray, slant), settings or FoldSettings())
        found = search.report()
        if found.fold is not None:
            return found
        report = found if slant == 0.0 else report
    return report


def _small_gray(pixels: np.ndarray) -> np.ndarray:
    scale = min(1.0, HEIGHT_PX / pixels.shape[0])
    size = max(8, round(pixels.shape[1] * scale)), max(8, round(pixels.shape[0] * scale))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    if small.ndim == 3:
        small = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    return small.astype(np.float32)


def _sheared(gray: np.ndarray, slant_deg: float) -> np.ndarray:
    """Rows moved sideways so that a line of this slant stands upright; half height stays."""
    if slant_deg == 0.0:
        return gray
    height, width = gray.shape
    slope = np.tan(np.deg2rad(slant_deg))
    back = np.array([[1, slope, -slope * height / 2], [0, 1, 0]], np.float64)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(gray, back, (width, height), flags=flags, borderMode=cv2.BORDER_REPLICATE)


class _FoldSearch:
    """One image's search; holds the arrays that its questions share."""

    def __init__(self, gray: np.ndarray, settings: FoldSettings) -> None:
        self.height, self.width = gray.shape
        self.settings = settings
        self.gray = gray
        self.threshold = max(14.0, 4.0 * _noise(gray))
        top, bottom = _page_rows(gray)
        self.rows = gray[top:bottom]
        self.residual = _residual(self.rows)

    def report(self) -> FoldReport:
        """The decision, question by question."""
        strip = self._quiet_strip()
        if strip is None:
            return self._meeting()
        if crossing := self._crossing_rows(strip):
            return FoldReport(None, "lines run through the middle", {"crossing_rows": crossing})
        fold_x, depth = self._valley(strip)
        measures = {"strip": strip.width / self.width, "depth": depth}
        if depth >= self.settings.valley and strip.width >= self.settings.least_strip * self.width:
            return FoldReport(Fold(fold_x / self.width, "shadow"), "", measures)
        if not self._is_wide(strip):
            return FoldReport(None, "the gap in the middle is no wider than a gutter", measures)
        x = min(max(self.width / 2, strip.start), strip.stop)
        return FoldReport(Fold(x / self.width, "margins"), "", measures)

    @cached_property
    def _loud(self) -> np.ndarray:
        """Pixels that differ from their column's own shading."""
        return self.residual > self.threshold

    def _quiet_strip(self) -> _Strip | None:
        """The widest run of quiet columns in the middle."""
        quiet = self._loud.mean(axis=0) <= self.settings.loud_share
        low, high = (round(share * self.width) for share in MIDDLE)
        runs = [r for r in _runs(quiet) if r[0] < high and r[1] > low]
        if not runs:
            return None
        start, stop = max(runs, key=lambda run: run[1] - run[0])
        start, stop = max(start, low), min(stop, high)
        if stop - start < max(3, self.settings.least_strip * self.width):
            return None
        return _Strip(start, stop, np.median(self.rows[:, start:stop], axis=0))

    def _crossing_rows(self, strip: _Strip) -> int:
        """Rows that differ all across the strip: a line or the edge of a picture."""
        loud = self._loud[:, strip.start : strip.stop].mean(axis=1) > 0.6
        return int(loud.sum())

    def _valley(self, strip: _Strip) -> tuple[float, float]:
        """Place and depth of the fold's own shading inside the strip."""
        profile = cv2.GaussianBlur(strip.profile.reshape(1, -1), (0, 0), 1.0).ravel()
        inner = max(1, strip.width // 10)
        core = profile[inner:-inner] if strip.width > 2 * inner + 2 else profile
        best = (strip.start + strip.width / 2, 0.0)
        for sign in (1.0, -1.0):
            k = int(np.argmin(sign * core)) + (inner if core is not profile else 0)
            flanks = min(sign * profile[:k].max(initial=-1e9), 1e9), 0.0
            left = (sign * profile[: k + 1]).max()
            right = (sign * profile[k:]).max()
            depth = float(min(left, right) - sign * profile[k])
            if depth > best[1]:
                best = (strip.start + k + 0.5, depth)
            _ = flanks
        return best

    def _is_wide(self, strip: _Strip) -> bool:
        """Whether a strip without shading is as wide as two margins, not as a gutter."""
        width = strip.width
        if width < self.settings.least_margins * self.width:
            return False
        gutters = [*self._tier_gutters(0, strip.start), *self._tier_gutters(strip.stop, self.width)]
        margins = self._outer_margins()
        usual = float(np.median(gutters)) if gutters else 0.0
        beside = min(margins) if margins else 0.0
        return bool(
            width >= self.settings.gutter_ratio * usual
            and width >= self.settings.margin_ratio * beside
        )

    def _tier_gutters(self, start: int, stop: int) -> list[int]:
        """Heights of the clean bands across a half."""
        part = self.rows[:, start:stop]
        if part.shape[1] < 8:
            return []
        middle = np.median(part, axis=1, keepdims=True)
        quiet = (np.abs(part - middle) > self.threshold).mean(axis=1) <= 0.02
        bands = [r for r in _runs(quiet) if r[0] > 0 and r[1] < len(quiet)]
        return [b - a for a, b in bands if 2 <= b - a <= 0.08 * self.height]

    def _outer_margins(self) -> list[int]:
        """Widths of the quiet runs of columns near the left and the right edge."""
        quiet = self._loud.mean(axis=0) <= self.settings.loud_share
        runs = [r for r in _runs(quiet) if r[1] - r[0] >= 3]
        near = 0.06 * self.width
        left = [b - a for a, b in runs if a <= near]
        right = [b - a for a, b in runs if b >= self.width - near]
        return [max(side) for side in (left, right) if side]

    def _meeting(self) -> FoldReport:
        """Two pictures that meet at a line: sharp steps along one column, nothing across."""
        return FoldReport(None, "art runs through the middle")


def _runs(flags: np.ndarray) -> list[tuple[int, int]]:
    """Runs of True as (start, stop)."""
    padded = np.concatenate([[False], flags, [False]]).astype(np.int8)
    change = np.flatnonzero(np.diff(padded))
    return list(zip(change[::2].tolist(), change[1::2].tolist(), strict=True))


def _noise(gray: np.ndarray) -> float:
    """Standard deviation of fine noise (kernel of Immerkaer 1996, CVIU; by the median)."""
    kernel = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], np.float32)
    fine = np.abs(cv2.filter2D(gray, cv2.CV_32F, kernel))
    return float(np.median(fine) / 0.6745 / 6.0)


def _page_rows(gray: np.ndarray) -> tuple[int, int]:
    """Rows of the page without a dark scanner bed or table above and below it."""
    height, width = gray.shape
    middle = gray[:, int(0.35 * width) : int(0.65 * width)]
    level = np.median(middle, axis=1)
    bright = level >= 0.6 * np.percentile(gray, 80)
    inside = np.flatnonzero(bright)
    if not len(inside):
        return 0, height
    top, bottom = int(inside[0]), int(inside[-1]) + 1
    if bottom - top < 0.6 * height:
        return 0, height
    trim = 3  # the page's own blurred edge
    return (top + trim if top else 0), (bottom - trim if bottom < height else height)


def _residual(rows: np.ndarray) -> np.ndarray:
    """Difference of each pixel from its column's shading (medians of blocks, joined up)."""
    height, width = rows.shape
    edges = np.linspace(0, height, _BLOCKS + 1).astype(int)
    medians = np.stack([np.median(rows[a:b], axis=0) for a, b in pairwise(edges) if b > a])
    shading = cv2.resize(medians.astype(np.float32), (width, height))
    return np.abs(rows - shading)
