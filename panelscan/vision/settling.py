"""Settling each chosen panel's sides: other lines it may stand on are tried one by one.

A side hidden behind balloons or left open is where its neighbours' sides are, where the
rest of a ruled line shows, or where the lettering over it ends (good continuation).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate, is_simple
from panelscan.vision.conflicts import common_area
from panelscan.vision.evidence import EvidenceMaps, side_evidence
from panelscan.vision.segments import Lines


@dataclass(frozen=True, slots=True)
class SettleSettings:
    """What a side may move for. Lengths in thousandths of the long side, gains in page lengths."""

    passes: int = 2
    reach_share: float = 0.45
    same_line: float = 2.5
    same_turn: float = 0.02
    align_gain: float = 0.03
    ink_gain: float = 25.0
    most_ink_gain: float = 0.06
    weak_wall: float = 0.3
    least_better: float = 0.004
    quiet_gap: float = 16.0
    slant_cost: float = 0.01
    least_side: float = 26.0
    most_corners: int = 8


def settle(
    chosen: list[Candidate],
    lines: Lines,
    maps: EvidenceMaps,
    art: np.ndarray,
    settings: SettleSettings | None = None,
) -> list[Candidate]:
    """Chosen panels with each side on the line that most speaks for.

    Parameters
    ----------
    chosen : list of Candidate
    lines : Lines
        Straight edges of the ground.
    maps : EvidenceMaps
    art : ndarray of uint8, shape (M, N)
        1 where something is drawn or lettered.
    settings : SettleSettings or None

    Returns
    -------
    list of Candidate
        As many, in the same order.
    """
    s = settings or SettleSettings()
    settled = list(chosen)
    for _ in range(s.passes):
        moved = False
        for k in range(len(settled)):
            better = _settled_panel(settled, k, lines, maps, art, s)
            moved |= better is not settled[k]
            settled[k] = better
        if not moved:
            break
    return settled


def _settled_panel(
    panels: list[Candidate],
    k: int,
    lines: Lines,
    maps: EvidenceMaps,
    art: np.ndarray,
    s: SettleSettings,
) -> Candidate:
    panel = panels[k]
    if len(panel.corners) > s.most_corners:
        return panel
    others = panels[:k] + panels[k + 1 :]
    for i in range(len(panel.corners)):
        tried = [panel.corners]
        for point, along in _alternatives(panel, i, others, lines, maps, art, s):
            corners = moved_side(panel.corners, i, point, along)
            if corners is not None and _fits(corners, others, panel, maps, s):
                tried.append(corners)
        if len(tried) == 1:
            continue
        weak = panel.sides[i].wall + panel.sides[i].bleed < s.weak_wall
        evidence = side_evidence(maps, tried)
        long_side = maps.unit * 1000
        values = []
        for corners, sides in zip(tried, evidence, strict=True):
            value = sum(e.worth for e in sides) / long_side
            value += _alignment(corners, others, maps.unit, s)
            if weak:
                value += _ink_gained(panel.corners, corners, art, maps.unit, s)
            values.append(value)
        best = int(np.argmax(values))
        if best and values[best] > values[0] + s.least_better:
            gain = panel.gain + values[best] - values[0]
            panel = replace(panel, corners=tried[best], sides=tuple(evidence[best]), gain=gain)
    return panel


def moved_side(
    corners: np.ndarray, i: int, point: np.ndarray, along: np.ndarray
) -> np.ndarray | None:
    """Ring with side i laid on another line; None where it no longer closes.

    Examples
    --------
    >>> square = np.array([[0.0, 0], [2, 0], [2, 2], [0, 2]])
    >>> moved_side(square, 0, np.array([0.0, -1.0]), np.array([1.0, 0.0])).tolist()
    [[0.0, -1.0], [2.0, -1.0], [2.0, 2.0], [0.0, 2.0]]
    """
    n = len(corners)
    before, start, end, after = (corners[(i + d) % n] for d in (-1, 0, 1, 2))
    first = _meeting(before, start - before, point, along)
    second = _meeting(after, end - after, point, along)
    if first is None or second is None:
        return None
    moved = corners.copy()
    moved[i], moved[(i + 1) % n] = first, second
    if (second - first) @ (end - start) <= 0 or (first - before) @ (start - before) <= 0:
        return None
    return moved if (second - after) @ (end - after) > 0 else None


def _meeting(p: np.ndarray, u: np.ndarray, q: np.ndarray, v: np.ndarray) -> np.ndarray | None:
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 1e-6 * float(np.hypot(*u)):
        return None
    return np.asarray(p + u * (((q - p)[0] * v[1] - (q - p)[1] * v[0]) / cross))


def _unit(v: np.ndarray) -> np.ndarray:
    return np.asarray(v / max(float(np.hypot(*v)), 1e-9))


def _alternatives(
    panel: Candidate,
    i: int,
    others: list[Candidate],
    lines: Lines,
    maps: EvidenceMaps,
    art: np.ndarray,
    s: SettleSettings,
) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Lines that side i might lie on: a point and a direction each."""
    corners = panel.corners
    start, end = corners[i], corners[(i + 1) % len(corners)]
    along = _unit(end - start)
    outward = np.array([along[1], -along[0]])
    middle = (start + end) / 2
    depth = -((corners - middle) @ outward).min()
    reach = s.reach_share * depth
    for other in others:
        rolled = np.roll(other.corners, -1, axis=0)
        for a, b in zip(other.corners, rolled, strict=True):
            direction = _unit(b - a)
            if direction @ along > 0.985 and abs((a - middle) @ outward) < reach * 1.3:
                yield a, direction
    for k in range(len(lines)):
        if lines.outward[k] @ outward < 0.97:
            continue
        off = float((lines.point[k] - middle) @ outward)
        if 0.5 < abs(off) < reach:
            yield lines.point[k], lines.along[k]
    ink = _ink_edge(start, end, outward, art, maps.unit, s, reach)
    if ink is not None:
        yield middle + ink * outward, along


def _ink_edge(
    start: np.ndarray,
    end: np.ndarray,
    outward: np.ndarray,
    art: np.ndarray,
    unit: float,
    s: SettleSettings,
    reach: float,
) -> float | None:
    """How far ink goes on outside a side before a quiet gap; None where there is none."""
    share = np.linspace(0.02, 0.98, 120)
    points = start + share[:, None] * (end - start)
    steps = np.arange(1.0, max(2.0, 1.6 * reach), 1.0)
    probes = points[None] + steps[:, None, None] * outward
    x = probes[..., 0].astype(np.intp)
    y = probes[..., 1].astype(np.intp)
    inside = (x >= 0) & (y >= 0) & (x < art.shape[1]) & (y < art.shape[0])
    ink = np.zeros(x.shape, dtype=bool)
    ink[inside] = art[y[inside], x[inside]] > 0
    busy = np.flatnonzero(ink.mean(axis=1) > 0.02)
    if not len(busy):
        return None
    gaps = np.flatnonzero(np.diff(np.concatenate([[0], busy])) > s.quiet_gap * unit)
    last = busy[gaps[0] - 1] if len(gaps) and gaps[0] > 0 else busy[-1]
    if len(gaps) and gaps[0] == 0:
        return None
    return float(steps[last]) + 2.0 * unit


def _fits(
    corners: np.ndarray,
    others: list[Candidate],
    panel: Candidate,
    maps: EvidenceMaps,
    s: SettleSettings,
) -> bool:
    """Whether a changed ring is still a panel and overlaps its neighbours no more than before."""
    if np.hypot(*(np.roll(corners, -1, axis=0) - corners).T).min() < s.least_side * maps.unit:
        return False
    ring = corners.astype(np.float32)
    if not cv2.isContourConvex(ring) and (len(corners) == 4 or not is_simple(corners)):
        return False
    old = panel.corners.astype(np.float32)
    slack = 12 * maps.unit**2
    for other in others:
        theirs = other.corners.astype(np.float32)
        common = common_area(ring, theirs)
        if common > slack and common > common_area(old, theirs) + slack:
            return False
    return True


def _alignment(
    corners: np.ndarray, others: list[Candidate], unit: float, s: SettleSettings
) -> float:
    """Gain of sides that continue other panels' sides, less the cost of slanted sides."""
    rings = [o.corners for o in others if len(o.corners) <= s.most_corners]
    start = np.concatenate(rings) if rings else np.zeros((0, 2))
    end = np.concatenate([np.roll(r, -1, axis=0) for r in rings]) if rings else start
    run = np.roll(corners, -1, axis=0) - corners
    along = run / np.maximum(np.hypot(*run.T), 1e-9)[:, None]
    gain = -s.slant_cost * float((np.abs(along).min(axis=1) > 0.012).sum())
    normal = np.stack([along[:, 1], -along[:, 0]], axis=1)
    place = np.einsum("ij,ij->i", corners, normal)
    off = np.abs(start @ normal.T - place)
    off_end = np.abs(end @ normal.T - place)
    near = s.same_line * unit
    continued = (off < near) & (off_end < near) & ((end - start) @ along.T > 0)
    return gain + s.align_gain * float(continued.any(axis=0).sum())


def _ink_gained(
    old: np.ndarray, new: np.ndarray, art: np.ndarray, unit: float, s: SettleSettings
) -> float:
    """Worth of ink that the changed ring takes in (negative where it leaves some out)."""
    low = np.floor(np.minimum(old.min(axis=0), new.min(axis=0))).astype(int)
    high = np.ceil(np.maximum(old.max(axis=0), new.max(axis=0))).astype(int)
    low = np.maximum(low, 0)
    window = art[low[1] : high[1] + 1, low[0] : high[0] + 1]
    stencils = []
    for ring in (old, new):
        stencil = np.zeros(window.shape, dtype=np.uint8)
        cv2.fillPoly(stencil, [np.round(ring - low).astype(np.int32)], 1)
        stencils.append(stencil)
    before = cv2.countNonZero(window & stencils[0])
    after = cv2.countNonZero(window & stencils[1])
    worth = s.ink_gain * (after - before) / (unit * 1000) ** 2
    return float(np.clip(worth, -s.most_ink_gain, s.most_ink_gain))
