"""Whose a burst is: the panel whose border it covers and whose art it goes on from.

A burst hides the border that it crosses. What merely touches a border from outside (a page
number, a caption apart, the rest of a gutter) leaves the line to be seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from panelscan.vision.working import Working

MOST_POINTS = 80
"""So many places of a contact tell as much as all of them."""
_NEAREST = np.ones((3, 3), np.uint8)
_FREE = np.linspace(0.02, 0.98, 60)
"""Where a side is looked at for the tone of its border, as shares of its length."""


@dataclass(frozen=True, slots=True)
class JoinSettings:
    """What joins a piece of art to a panel.

    Lengths are in thousandths of the page's long side, tones in 8-bit levels summed over Lab.

    Parameters
    ----------
    alike : float
        Tones that differ by less are one.
    unlike : float
        Tones that differ by more from the border's own do not show the border.
    least_covered : float
        Share of the contact where the border is hidden.
    least_reach : float
        A burst reaches this far out of the border.
    least_across : float
        The same where it meets another panel's border, as in a narrow gutter.
    least_bare : float
        The same out of a panel without a border line, whose tone may be ragged.
    least_steep : float
        Reach as a share of the contact, else the side is misplaced by a little; not asked for
        where another panel's border is met, nor beyond ``most_steep``.
    most_steep : float
        Reach that is enough however long the contact.
    most_share : float
        Greatest area, as a share of the panel's.
    most_side, most_even : float
        What lies along more than this share of a side, and fills more than that share of its
        length times its reach, is a strip: the side is misplaced.
    most_loose : float
        Share of the contact that may lie on sides where nothing is drawn.
    """

    alike: float = 70.0
    unlike: float = 60.0
    least_covered: float = 0.5
    least_reach: float = 3.5
    least_across: float = 1.5
    least_bare: float = 8.0
    least_steep: float = 0.12
    most_steep: float = 15.0
    most_share: float = 0.15
    most_side: float = 0.8
    most_even: float = 0.75
    most_loose: float = 0.3


@dataclass(frozen=True, eq=False)
class Frame:
    """A panel in working pixels.

    Parameters
    ----------
    ring : ndarray of float64, shape (K, 2)
        Its outline, no corner twice.
    half : float
        Half the width of its border.
    margin : float
        How far the border may reach out of the outline, blur and wobble included.
    known : ndarray of bool, shape (K,)
        Sides beyond which art is known to be a burst.
    lined : bool
        Whether any side has a border line.
    """

    ring: np.ndarray
    half: float
    margin: float
    known: np.ndarray
    lined: bool

    @property
    def area(self) -> float:
        """Area in working pixels."""
        return abs(float(cv2.contourArea(self.ring.astype(np.float32))))


@dataclass(frozen=True, eq=False)
class Piece:
    """A connected piece of art outside of all panels.

    Parameters
    ----------
    mask : ndarray of uint8, shape (H, W)
        1 on the piece, on its window only.
    origin : tuple of int
        Column and row of the window's corner.
    owner : ndarray of uint16, shape (H, W)
        Panel at each pixel of the window, counted from 1; 0 outside of all.
    """

    mask: np.ndarray
    origin: tuple[int, int]
    owner: np.ndarray

    @cached_property
    def around(self) -> np.ndarray:
        """The piece and the pixels next to it, bool of shape (H, W)."""
        return cv2.dilate(self.mask, _NEAREST).view(np.bool_)

    @cached_property
    def touched(self) -> list[int]:
        """Panels that the piece touches, counted from 0."""
        return np.flatnonzero(np.bincount(self.owner[self.around])[1:]).tolist()

    def contact(self, panel: int) -> np.ndarray:
        """Middles of the panel's pixels that the piece touches, (x, y), shape (P, 2)."""
        rows, columns = np.nonzero((self.owner == panel + 1) & self.around)
        return np.stack([columns, rows], axis=1) + 0.5 + self.origin

    @cached_property
    def points(self) -> np.ndarray:
        """Middles of the piece's pixels, (x, y), shape (P, 2)."""
        rows, columns = np.nonzero(self.mask)
        return np.stack([columns, rows], axis=1) + 0.5 + self.origin


@dataclass(frozen=True, eq=False)
class _Contact:
    """Where a piece touches a panel: places, the side and its foot on that side, of each."""

    places: np.ndarray
    side: np.ndarray
    along: np.ndarray
    foot: np.ndarray
    normal: np.ndarray
    beside: np.ndarray


def host_of(
    piece: Piece, frames: Sequence[Frame], work: Working, settings: JoinSettings | None = None
) -> int | None:
    """Panel that a piece of art bursts out of.

    Parameters
    ----------
    piece : Piece
        In working pixels.
    frames : sequence of Frame
        All panels.
    work : Working
        The page at working size.
    settings : JoinSettings or None

    Returns
    -------
    int or None
        Place of the panel whose border the piece covers most, art going on inside counting
        twice; None where it is nobody's burst.
    """
    s = settings or JoinSettings()
    across = len(piece.touched) > 1
    best, most = None, 0.0
    for k in piece.touched:
        worth = _joined(piece, frames[k], piece.contact(k), across, work, s)
        if worth > most:
            best, most = k, worth
    return best


def _joined(
    piece: Piece, frame: Frame, places: np.ndarray, across: bool, work: Working, s: JoinSettings
) -> float:
    """Length of the frame's border that the piece covers; 0 where it is no burst of it."""
    if cv2.countNonZero(piece.mask) > s.most_share * frame.area:
        return 0.0
    contact = _contact(frame.ring, places[:: 1 + len(places) // MOST_POINTS])
    count = np.bincount(contact.side, minlength=len(frame.ring)) * (len(places) / len(contact.side))
    if count[~frame.known].sum() > s.most_loose * len(places):
        return 0.0
    main = int(count.argmax())
    start = frame.ring[main]
    run = frame.ring[(main + 1) % len(frame.ring)] - start
    length = float(np.hypot(*run))
    out = (piece.points - start) @ np.array([run[1], -run[0]]) / length
    least = s.least_across if across else s.least_reach
    if not frame.lined and not across:
        least = s.least_bare
    least *= work.unit_px
    steep = 0.0 if across else min(s.least_steep * count[main], s.most_steep * work.unit_px)
    far = float(out.max()) - frame.margin
    strip = len(piece.points) > s.most_even * count[main] * far
    if far < max(least, steep) or (strip and count[main] > s.most_side * length):
        return 0.0
    hidden, going_on = _hidden(contact, frame, main, work, s)
    if hidden.mean() < s.least_covered:
        return 0.0
    return float(hidden.mean() + (hidden & going_on).mean()) * len(places)


def _contact(ring: np.ndarray, places: np.ndarray) -> _Contact:
    run = np.roll(ring, -1, axis=0) - ring
    length = np.hypot(*run.T)
    way = run / length[:, None]
    normal = np.stack([way[:, 1], -way[:, 0]], axis=1)
    off = places[:, None] - ring
    along, across = (off * way).sum(axis=2), (off * normal).sum(axis=2)
    side = np.hypot(across, along - np.clip(along, 0, length)).argmin(axis=1)
    at = along[np.arange(len(places)), side]
    foot = ring[side] + way[side] * at[:, None]
    beside = (at >= 0) & (at <= length[side])
    return _Contact(places, side, at, foot, normal[side], beside)


def _hidden(
    contact: _Contact, frame: Frame, main: int, work: Working, s: JoinSettings
) -> tuple[np.ndarray, np.ndarray]:
    """Where the border does not show under the piece, and where the art goes on inside.

    The art has its tone on the border's line, or no tone near the line is that of the border
    elsewhere. Both bool of shape (P,).
    """
    start, run = frame.ring[main], frame.ring[(main + 1) % len(frame.ring)] - frame.ring[main]
    length = float(np.hypot(*run))
    taken = contact.along[contact.side == main] / length
    free = _FREE[np.abs(_FREE[:, None] - taken).min(axis=1) > 3.0 * work.unit_px / length]
    foot, normal = contact.foot, contact.normal
    inner = foot - normal * frame.margin
    rows = [contact.places, inner, foot, foot - normal, foot + normal, start + run * free[:, None]]
    outer, inner, *near, border = _tones(work, rows)
    same = np.abs(near[0] - outer).sum(axis=1) < s.alike
    if len(free):
        line = np.median(border, axis=0)
        same |= np.abs(np.array(near) - line).sum(axis=2).min(axis=0) > s.unlike
    return same & contact.beside, np.abs(inner - outer).sum(axis=1) < s.alike


def _tones(work: Working, groups: list[np.ndarray]) -> list[np.ndarray]:
    """Lab tones of the pixels that hold the points of each group, int of shape (P, 3)."""
    at = np.concatenate(groups).astype(np.intp)
    at = np.minimum(np.maximum(at, 0), np.array(work.size) - 1)
    tones = work.lab[at[:, 1], at[:, 0]].astype(np.int16)
    return np.split(tones, np.cumsum([len(g) for g in groups[:-1]]))
