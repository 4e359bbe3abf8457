"""Panels with a corner cut out for another: told from panels that run on beneath it.

Where one panel takes a corner of another, the other either runs on beneath it or steps back
round it as an L. A frame round all of the L fits both, and gains the front panel's borders
too. The L stops a gutter away from the front panel, or shows along the step the line that it
has elsewhere; a host's art is cut off at the rim that keeps an inset clear of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.cuts import look_up
from panelscan.vision.insets import common_area


@dataclass(frozen=True, slots=True)
class NotchSettings:
    """When a panel is taken to step back; lengths in thousandths of the page's long side.

    Parameters
    ----------
    same_share : float
        An L and the frame round it differ by less than this share of their size.
    corners : tuple of int
        Fewest and most corners of an L: some find one corner twice.
    least_front, most_common : float
        Share of the front panel that lies in the frame, at least, and in the L, at most.
    least_gutter, gutter_share : float
        From the step to the front panel, at least, also in shares of the page's usual gutter:
        the rim that keeps an inset clear of its host is thinner.
    widest_gutter : float
        Panels farther apart have no gutter between them.
    deep, long : float
        A side of the step lies so deep in the frame and is so long.
    bordered : float
        Share of the L's weakest side along which the net sees a border.
    most_blocked : float
        Share of a side of the step that may have art right across it.
    least_rim, rim_wall, most_hidden, line_share : float
        With less than a gutter between: from the step to the front panel, at least; share of
        the step with ground beyond, and with art across; and how much of a dark line the step
        must show, in shares of what the other sides show.
    """

    same_share: float = 0.03
    corners: tuple[int, int] = (6, 8)
    least_front: float = 0.8
    most_common: float = 0.1
    least_gutter: float = 4.4
    gutter_share: float = 0.5
    widest_gutter: float = 45.0
    deep: float = 12.0
    long: float = 15.0
    bordered: float = 0.75
    most_blocked: float = 0.36
    least_rim: float = 1.5
    rim_wall: float = 0.75
    most_hidden: float = 0.05
    line_share: float = 0.35


def stepped_back(
    panels: list[Candidate],
    candidates: list[Candidate],
    gray: np.ndarray,
    unit: float,
    settings: NotchSettings | None = None,
) -> list[Candidate]:
    """Panels, those that step back round another as the L that they are.

    Parameters
    ----------
    panels : list of Candidate
        The chosen panels; only those of four corners are looked at.
    candidates : list of Candidate
        All that were weighed.
    gray : ndarray of uint8, shape (M, N)
        The page at working size.
    unit : float
        Working pixels in a thousandth of the page's long side.
    settings : NotchSettings or None

    Returns
    -------
    list of Candidate
        In the same order.
    """
    s = settings or NotchSettings()
    fewest, most = s.corners
    shaped = [
        c for c in candidates if fewest <= len(c.corners) <= most and c.bordered >= s.bordered
    ]
    if not shaped:
        return panels
    rings = [p.corners.astype(np.float32) for p in panels]
    gutter = usual_gutter(rings, s.widest_gutter * unit)
    found = []
    for k, panel in enumerate(panels):
        fronts = [r for j, r in enumerate(rings) if j != k and _lies_in(r, rings[k], s.least_front)]
        fits = []
        if fronts and len(panel.corners) == 4:
            steps = [Step.of(c, rings[k], unit, s) for c in shaped if same_box(c, panel, s)]
            fits = [t.shape for t in steps for f in fronts if t.clears(f, gray, gutter)]
        found.append(max(fits, key=lambda c: c.gain, default=panel))
    return found


def _lies_in(front: np.ndarray, frame: np.ndarray, least: float) -> bool:
    return common_area(front, frame) > least * cv2.contourArea(front)


def usual_gutter(rings: list[np.ndarray], widest: float) -> float:
    """Median distance from the middle of a side to the next panel; 0 where none is near."""
    gutters = []
    for k, ring in enumerate(rings):
        for middle in (ring + np.roll(ring, -1, axis=0)) / 2:
            away = [-_depth(other, middle) for j, other in enumerate(rings) if j != k]
            gutters += [min(d for d in away if d > 0)] if any(d > 0 for d in away) else []
    near = [d for d in gutters if d < widest]
    return float(np.median(near)) if near else 0.0


def same_box(one: Candidate, other: Candidate, s: NotchSettings) -> bool:
    """Whether two candidates have next to the same box."""
    near = s.same_share * float(np.ptp(other.corners, axis=0).max())
    low = np.abs(one.corners.min(axis=0) - other.corners.min(axis=0)).max()
    high = np.abs(one.corners.max(axis=0) - other.corners.max(axis=0)).max()
    return bool(max(low, high) <= near)


@dataclass(frozen=True, eq=False)
class Step:
    """The sides of a shape that lie deep in a frame; an L has two."""

    shape: Candidate
    deep: tuple[bool, ...]
    unit: float
    s: NotchSettings

    @classmethod
    def of(cls, shape: Candidate, frame: np.ndarray, unit: float, s: NotchSettings) -> Step:
        """The sides of a shape that lie deep in a frame, a ring of shape (4, 2), float32."""
        middles = (shape.corners + np.roll(shape.corners, -1, axis=0)) / 2
        deep = tuple(
            side.length >= s.long * unit and _depth(frame, middle) >= s.deep * unit
            for middle, side in zip(middles, shape.sides, strict=True)
        )
        return cls(shape, deep, unit, s)

    def clears(self, front: np.ndarray, gray: np.ndarray, gutter: float) -> bool:
        """Whether the shape is an L that steps back from the front panel."""
        ring = self.shape.corners.astype(np.float32)
        if sum(self.deep) != 2:
            return False
        if common_area(front, ring) > self.s.most_common * cv2.contourArea(front):
            return False
        ends = np.roll(self.shape.corners, -1, axis=0)
        middles = ((self.shape.corners + ends) / 2)[list(self.deep)]
        sides = [side for side, deep in zip(self.shape.sides, self.deep, strict=True) if deep]
        away = min(-_depth(front, middle) for middle in middles)
        if away >= max(self.s.least_gutter * self.unit, self.s.gutter_share * gutter):
            return max(side.blocked for side in sides) <= self.s.most_blocked
        clear = min(side.wall for side in sides) >= self.s.rim_wall
        clear = clear and max(side.blocked for side in sides) <= self.s.most_hidden
        return clear and away >= self.s.least_rim * self.unit and self._lined(gray)

    def _lined(self, gray: np.ndarray) -> bool:
        """Whether a dark line runs along both sides of the step as it does elsewhere."""
        shares = _line_shares(self.shape.corners, gray, self.unit)
        length = np.array([side.length for side in self.shape.sides])
        deep = np.array(self.deep)
        usual = float(shares[~deep] @ length[~deep] / length[~deep].sum())
        return bool(shares[deep].min() >= self.s.line_share * usual > 0)


def _line_shares(ring: np.ndarray, gray: np.ndarray, unit: float) -> np.ndarray:
    """Share of each side that has something darker on it than the art inside, shape (K,)."""
    run = np.roll(ring, -1, axis=0) - ring
    outward = np.stack([run[:, 1], -run[:, 0]], axis=1) / np.hypot(*run.T)[:, None]
    places = ring[:, None] + np.linspace(0.05, 0.95, 60)[:, None] * run[:, None]
    off = np.arange(-7.0, 3.0, 0.5)[:, None, None, None] * unit * outward[:, None]
    # Steps across, sides, places along them.
    tone = look_up(gray, places + off).astype(np.int16)
    art, line = np.median(tone[:7], axis=0), tone[9:].min(axis=0)
    return np.asarray((line < art - 30).mean(axis=1))


def _depth(ring: np.ndarray, place: np.ndarray) -> float:
    """How deep a place lies in a ring; negative outside of it."""
    return float(cv2.pointPolygonTest(ring, (float(place[0]), float(place[1])), True))
