"""The clean strip of two inner margins in the middle of an image, with the fold's shading or not.

Frame: a small gray image, column x covers x..x+1; rows run down.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from panelscan.intake.fold_report import Fold, FoldReport, FoldSettings
from panelscan.intake.fold_shading import (
    noise_of,
    page_rows,
    residual_of,
    runs_of,
    sharp_sides,
    sheared,
    without_surround,
)

MIDDLE = (0.42, 0.58)
_WINDOW = (0.38, 0.62)


@dataclass(frozen=True)
class Strip:
    """Quiet columns start..stop, and the column median over the page's rows there."""

    start: int
    stop: int
    profile: np.ndarray

    @property
    def width(self) -> int:
        """Number of columns."""
        return self.stop - self.start


def bridged(quiet: np.ndarray, nearly: np.ndarray, most: int = 3) -> np.ndarray:
    """Quiet columns with the gaps between them that are short and nearly quiet.

    Parameters
    ----------
    quiet, nearly : ndarray of bool, shape (N,)
    most : int
        Columns of the longest gap that is closed.

    Examples
    --------
    >>> quiet = np.array([1, 0, 1, 0, 1], bool)
    >>> bridged(quiet, np.array([1, 1, 1, 0, 1], bool)).tolist()
    [True, True, True, False, True]
    """
    closed = quiet.copy()
    for start, stop in runs_of(~quiet):
        if 0 < start and stop < len(quiet) and stop - start <= most and nearly[start:stop].all():
            closed[start:stop] = True
    return closed


class Sheet:
    """The whole image: what the margins and gutters beside the fold are like."""

    def __init__(self, gray: np.ndarray, settings: FoldSettings) -> None:
        self.height, self.width = gray.shape
        self.settings = settings
        self.gray = gray
        self.threshold = max(14.0, 4.0 * noise_of(gray))
        self.top, self.bottom = page_rows(gray)
        self.rows = gray[self.top : self.bottom]

    @cached_property
    def _edges(self) -> np.ndarray:
        """Whether a column of the outer eighths is quiet; the rest is not asked."""
        reach = self.width // 8
        sides = np.hstack([self.rows[:, :reach], self.rows[:, -reach:]])
        quiet = (residual_of(sides) > self.threshold).mean(axis=0) <= self.settings.loud_share
        flags = np.zeros(self.width, dtype=bool)
        flags[:reach], flags[-reach:] = quiet[:reach], quiet[-reach:]
        flags[sharp_sides(np.median(self.rows, axis=0))] = False
        return flags

    @cached_property
    def paper(self) -> float:
        """Tone of the paper: that of light outer margins, else white."""
        edges = np.flatnonzero(self._edges)
        levels = np.median(self.rows[:, edges], axis=0) if len(edges) else np.zeros(0)
        light = levels[levels >= 170.0]
        return float(np.median(light)) if len(light) >= 3 else 250.0

    def outer_margins(self) -> list[int]:
        """Widths of the widest quiet runs of columns near the left and the right edge."""
        runs = [r for r in runs_of(self._edges) if r[1] - r[0] >= 3]
        near = 0.06 * self.width
        left = [b - a for a, b in runs if a <= near]
        right = [b - a for a, b in runs if b >= self.width - near]
        return [max(side) for side in (left, right) if side]

    def tier_gutters(self, start: int, stop: int) -> list[int]:
        """Heights of the clean bands across columns start..stop."""
        part = self.rows[:, start:stop]
        if part.shape[1] < 8:
            return []
        middle = np.median(part, axis=1, keepdims=True)
        quiet = (np.abs(part - middle) > self.threshold).mean(axis=1) <= 0.02
        bands = [r for r in runs_of(quiet) if r[0] > 0 and r[1] < len(quiet)]
        return [b - a for a, b in bands if 2 <= b - a <= 0.08 * self.height]


class Middle:
    """The middle of the sheet, sheared by one slant; columns count from the sheet's left."""

    def __init__(self, sheet: Sheet, slant_deg: float) -> None:
        self.sheet = sheet
        self.settings = sheet.settings
        self.width, self.threshold = sheet.width, sheet.threshold
        low, self.stop = (round(share * sheet.width) for share in _WINDOW)
        self.start = low
        rows = sheared(sheet.gray, slant_deg)[sheet.top : sheet.bottom, low : self.stop]
        loud = residual_of(np.ascontiguousarray(rows)) > self.threshold
        first, last = without_surround(loud)
        self.rows, self._loud = rows[first:last], loud[first:last]

    def clean_strip(self) -> FoldReport:
        """A clean strip in the middle, or why there is none, question by question."""
        whole = FoldReport(None, "art runs through the middle", may_meet=True)
        for strip in self._quiet_strips():
            if not self._is_paper(strip):
                continue
            report = self._judged(strip)
            if report.fold is not None or not report.may_meet:
                return report
            whole = report
        return whole

    def _judged(self, strip: Strip) -> FoldReport:
        """Whether the fold lies in a clean strip."""
        if crossing := self._crossing_rows(strip):
            return FoldReport(None, "lines run through the middle", {"crossing_rows": crossing})
        fold_x, depth = self._valley(strip)
        measures = {"strip": strip.width / self.width, "depth": depth}
        if depth >= self.settings.valley:
            return FoldReport(Fold(fold_x / self.width, "shadow"), "", measures)
        if self._is_wide(strip):
            return FoldReport(Fold(self._place(strip) / self.width, "margins"), "", measures)
        return FoldReport(
            None, "the gap in the middle is no wider than a gutter", measures, may_meet=True
        )

    def _place(self, strip: Strip) -> float:
        """Where to cut a strip that shows no fold: in its middle, or that of a joined export.

        Where one page's art runs into the fold, the strip is the other page's margin alone,
        and begins or ends at the middle of the image.
        """
        middle, centre = self.width / 2, (strip.start + strip.stop) / 2
        near = 0.004 * self.width
        ends = min(abs(strip.start - middle), abs(strip.stop - middle)) <= near
        if ends or abs(centre - middle) <= 2 * near:
            return float(min(max(middle, strip.start), strip.stop))
        return float(centre)

    def _columns(self, strip: Strip) -> slice:
        return slice(strip.start - self.start, strip.stop - self.start)

    def _quiet_strips(self) -> list[Strip]:
        """Runs of quiet columns in the middle, widest first; an even panel's side ends a run."""
        loud = self._loud.mean(axis=0)
        profile = np.median(self.rows, axis=0)
        sharp = sharp_sides(profile)
        quiet = (loud <= self.settings.loud_share) & ~sharp
        quiet = bridged(quiet, (loud <= 2 * self.settings.loud_share) & ~sharp)
        low, high = (round(share * self.width) - self.start for share in MIDDLE)
        least = max(3, self.settings.least_strip * self.width)
        runs = [(max(a, low), min(b, high)) for a, b in runs_of(quiet) if a < high and b > low]
        runs = sorted((r for r in runs if r[1] - r[0] >= least), key=lambda r: r[0] - r[1])
        return [Strip(a + self.start, b + self.start, profile[a:b]) for a, b in runs]

    def _crossing_rows(self, strip: Strip) -> int:
        """Rows that differ all across the strip: a line or the edge of a picture."""
        share = self._loud[:, self._columns(strip)].mean(axis=1)
        count = len(share)
        rim = max(1, count // 100)  # the page's own edge
        share[:rim], share[-rim:] = 0.0, 0.0
        crossing = np.flatnonzero(share > 0.6)
        if not crossing.size:
            return 0
        # A running title or page number may stand across the fold, at one end of the page; a
        # picture that crosses there shows two borders, or reaches further in.
        at_end = crossing[-1] < 0.12 * count or crossing[0] > 0.88 * count
        if at_end and crossing[-1] - crossing[0] <= 0.025 * count:
            return 0
        return len(crossing)

    def _is_paper(self, strip: Strip) -> bool:
        """Whether a strip is margin, not an even part of a picture.

        It has the tone of paper, or panels end along most of both its sides.
        """
        ends = min(self._contrast_beside(strip, side) for side in (-1, 1))
        level = float(strip.profile.max())
        light = level >= 200.0 or abs(level - self.sheet.paper) <= self.settings.paper_difference
        return ends >= (self.settings.ends_if_light if light else self.settings.ends_if_not)

    def _contrast_beside(self, strip: Strip, side: int) -> float:
        """Share of rows in which something differs from the strip just beyond its side."""
        reach = max(4, round(0.02 * self.width))
        a, b = strip.start - self.start, strip.stop - self.start
        if side < 0:
            inside, outside = self.rows[:, a : a + 3], self.rows[:, max(0, a - reach) : a]
        else:
            inside, outside = self.rows[:, b - 3 : b], self.rows[:, b : b + reach]
        if not outside.size:
            return 0.0
        level = np.median(inside, axis=1, keepdims=True)
        return float((np.abs(outside - level) > 1.5 * self.threshold).any(axis=1).mean())

    def _valley(self, strip: Strip) -> tuple[float, float]:
        """Place and depth of the fold's shadow inside the strip, or at one end of it.

        At an end: where one page's art runs into the fold, the shadow shows on the other
        page's margin alone, and reaches further than a blurred edge does.
        """
        profile = cv2.GaussianBlur(strip.profile.reshape(1, -1), (0, 0), 1.0).ravel()
        inner = max(3, strip.width // 10)
        if strip.width > 2 * inner + 2:
            core = profile[inner:-inner]
            k = int(np.argmin(core))
            depth = min(core[: k + 1].max(), core[k:].max()) - core[k]
            k += inner
            if depth >= self.settings.valley:
                return strip.start + k + 0.5, float(depth)
        blur = 3
        if strip.width > 4 * blur:
            top = np.percentile(profile, 90)
            ends = (top - profile[blur], strip.start), (top - profile[-1 - blur], strip.stop)
            depth, place = max(ends)
            broad = strip.width >= self.settings.least_margins * self.width
            if depth >= self.settings.end_valley if broad else depth >= self.settings.deep_valley:
                return float(place), float(depth)
        return strip.start + strip.width / 2, 0.0

    def _is_wide(self, strip: Strip) -> bool:
        """Whether a strip without shading is as wide as two margins, not as a gutter."""
        width = strip.width
        if width < self.settings.least_margins * self.width:
            return False
        sheet = self.sheet
        gutters = sheet.tier_gutters(0, strip.start) + sheet.tier_gutters(strip.stop, self.width)
        usual = float(np.median(gutters)) if gutters else 0.0
        # Even art and a dark bed beside a dark page pass for margins: no more than usual ones.
        beside = min(min(sheet.outer_margins(), default=0), 0.045 * self.width)
        return bool(
            width >= self.settings.gutter_ratio * usual
            and width >= self.settings.margin_ratio * beside
        )
