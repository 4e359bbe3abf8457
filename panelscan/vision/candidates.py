"""Candidate panels: frames around all regions and parts of the page that might be one."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from shapely import Polygon

from panelscan.vision.cuts import CutNode, art_inside
from panelscan.vision.dividers import LineMap, divided
from panelscan.vision.evidence import EvidenceMaps, SideEvidence, side_evidence
from panelscan.vision.polygons import fit_quad
from panelscan.vision.regions import RegionSettings, regions_of
from panelscan.vision.shapes import shaped_outlines


@dataclass(frozen=True, slots=True)
class CandidateSettings:
    """What becomes a candidate and what it is worth.

    Costs and gains are in page lengths (the long side is 1). What is ``strip`` times as long
    as wide, no wider than ``strip_width`` thousandths of the long side and within
    ``strip_edge`` of them of the page's edge is the shadow of a fold or the rim of a scan.
    """

    panel_cost: float = 0.11
    corner_cost: float = 0.012
    free_corners: int = 8
    curve_cost: float = 0.002
    art_gain: float = 0.35
    least_side: float = 26.0
    least_area_share: float = 0.004
    same_corner: float = 3.0
    least_part_of_art: float = 0.02
    scattered: float = 0.3
    least_walled: float = 0.6
    lettering_height: float = 34.0
    lettering_cost: float = 0.6
    scattered_cost: float = 0.3
    parted_cost: float = 0.2
    strip: float = 3.0
    strip_width: float = 50.0
    strip_edge: float = 25.0


@dataclass(frozen=True, eq=False)
class Candidate:
    """A possible panel in working pixels.

    Parameters
    ----------
    corners : ndarray of float64, shape (K, 2)
        Ring with positive shoelace area.
    source : str
        What proposed it.
    whole : float
        Share of its box that the box of its largest connected piece takes.
    sides : tuple of SideEvidence
        Evidence of side i, from corner i to corner i + 1.
    art : int
        Pixels of art inside.
    gain : float
        Evidence less cost, in page lengths.
    voted : float
        How far the net's votes inside are votes for it, -1 to 1; 0 where none were cast.
    bordered : float
        Share of its weakest side along which the net sees a border.
    """

    corners: np.ndarray
    source: str
    whole: float = 1.0
    sides: tuple[SideEvidence, ...] = ()
    art: int = 0
    gain: float = 0.0
    voted: float = 0.0
    bordered: float = 0.0

    @property
    def by_net(self) -> bool:
        """Whether the net's maps or votes proposed it: only those see frames on top of art."""
        return self.source in ("net", "votes", "enclosed")

    @property
    def perimeter(self) -> float:
        """Length of the outline, at most that of its box, in working pixels."""
        run = np.roll(self.corners, -1, axis=0) - self.corners
        return float(min(np.hypot(*run.T).sum(), 2 * np.ptp(self.corners, axis=0).sum()))

    @property
    def walled(self) -> float:
        """Share of the outline with a wall or the page's edge."""
        length = sum(side.length for side in self.sides)
        held = sum(side.length * (side.wall + side.bleed) for side in self.sides)
        return held / length if length else 0.0


def propose(
    open_ground: np.ndarray,
    guarded: list[tuple[float, np.ndarray]],
    trees: list[CutNode],
    settings: CandidateSettings | None = None,
) -> list[Candidate]:
    """Frames around every region at every leak guard and around every part of the cut trees.

    Parameters
    ----------
    open_ground : ndarray of uint8, shape (M, N)
        Ground open to the page's edge.
    guarded : list of (float, ndarray)
        Leak guard and the ground open to the edge under it.
    trees : list of CutNode
        Parts of the page.
    settings : CandidateSettings or None

    Returns
    -------
    list of Candidate
        Without doubles, not yet weighed.
    """
    s = settings or CandidateSettings()
    unit = max(open_ground.shape) / 1000.0
    found: list[Candidate] = []
    seen: list[np.ndarray] = []
    for guard, ground in guarded:
        for region in regions_of(ground, guard, RegionSettings()):
            # Most regions look the same at every leak guard.
            figure = np.array([*region.box, np.sqrt(region.area)], dtype=float)
            if _like_any(figure, seen, s.same_corner * unit):
                continue
            seen.append(figure)
            _add(found, region.mask, region.box[:2], f"region {guard:g}", unit, s)
    art = 1 - open_ground
    rows, columns = open_ground.shape
    page = np.array([[0.0, 0], [columns, 0], [columns, rows], [0, rows]])
    found.append(Candidate(page, "page"))
    boxes: list[np.ndarray] = []
    for tree in trees:
        for node in tree.walk():
            if len(node.polygon) < 3:
                continue
            box = np.array([node.polygon.min(axis=0), node.polygon.max(axis=0)])
            if any(np.abs(box - other).max() < s.same_corner * unit for other in boxes):
                continue
            boxes.append(box)
            inside, low = art_inside(art, node.polygon)
            # What is left between cuts is mostly a region that was seen before.
            if _like_any(_figure(inside, low), seen, unit):
                continue
            for part in _parts(inside, low, s):
                if not _like_any(part.figure, seen, unit):
                    _add(found, part.mask, part.corner, part.source, unit, s, part.whole, art)
    return found


def _figure(mask: np.ndarray, corner: np.ndarray) -> np.ndarray:
    """Box on the page and square root of the area of a 0/1 mask with its corner there."""
    x, y, width, height = cv2.boundingRect(mask)
    side = np.sqrt(cv2.countNonZero(mask))
    return np.array([x + corner[0], y + corner[1], width, height, side], dtype=float)


def _like_any(figure: np.ndarray, seen: list[np.ndarray], near: float) -> bool:
    return any(np.abs(figure - other).max() < near for other in seen)


@dataclass(frozen=True, eq=False)
class _Part:
    """Art in a part of the page: its mask, the mask's corner on the page, and its figure.

    The figure is that of a region in `propose`: box and square root of the area.
    """

    mask: np.ndarray
    corner: tuple[int, int]
    figure: np.ndarray
    source: str
    whole: float = 1.0


def _parts(inside: np.ndarray, low: np.ndarray, s: CandidateSettings) -> list[_Part]:
    """Art in a part of the page: all of it together, and each large piece alone.

    `inside` is the part's art cut out to its box, `low` the box's corner on the page.
    """
    # Telling pieces apart is quick; counting their pixels the way OpenCV does is not.
    count, found = cv2.connectedComponents(inside, connectivity=4)
    if count < 2:
        return []
    labels = np.asarray(found)
    areas = np.bincount(labels.ravel())
    areas[0] = 0
    keep = (areas >= s.least_part_of_art * areas.sum()).astype(np.uint8)
    keep[0] = 0
    large = np.flatnonzero(keep)
    if not len(large):  # specks only, as of a screen
        return []
    corner = (int(low[0]), int(low[1]))
    pieces = [(labels == k).view(np.uint8) for k in large]
    figures = np.array([_figure(piece, low) for piece in pieces])
    near, far = figures[:, :2].min(axis=0), (figures[:, :2] + figures[:, 2:4]).max(axis=0)
    whole = float(figures[:, 2:4].prod(axis=1).max() / max(1.0, (far - near).prod()))
    every = np.array([*near, *(far - near), np.hypot.reduce(figures[:, 4])])
    together = pieces[0] if len(large) == 1 else keep.take(labels)
    parts = [_Part(together, corner, every, "part", whole)]
    if 1 < len(large) <= 6:
        parts += [
            _Part(piece, corner, figure, "piece")
            for piece, figure in zip(pieces, figures, strict=True)
        ]
    return parts


def _add(
    found: list[Candidate],
    mask: np.ndarray,
    corner: tuple[int, ...],
    source: str,
    unit: float,
    s: CandidateSettings,
    whole: float = 1.0,
    art: np.ndarray | None = None,
) -> None:
    """Add the frame around a region, and the other shapes it may have."""
    fitted = fit_quad(mask, unit, art=art, corner=corner)
    rings = [] if fitted is None else [fitted[0]]
    if source != "part":
        rings += shaped_outlines(mask, unit)
    for ring in rings:
        corners = ring + np.array(corner[:2], dtype=np.float64)
        if (np.ptp(corners, axis=0) < s.least_side * unit).any():
            continue
        near = s.same_corner * unit if len(corners) == 4 else unit
        alike = (c.corners for c in found if len(c.corners) == len(corners))
        if not any(np.abs(c - corners).max() < near for c in alike):
            found.append(Candidate(corners, source, whole))


def divide(
    weighed: list[Candidate], maps: list[LineMap], settings: CandidateSettings | None = None
) -> list[Candidate]:
    """Parts of frames that are divided by single lines, as further candidates.

    Parameters
    ----------
    weighed : list of Candidate
        With their evidence.
    maps : list of LineMap
    settings : CandidateSettings or None
    """
    s = settings or CandidateSettings()
    sound = [c for c in weighed if len(c.corners) == 4 and c.walled >= s.least_walled]
    middles = np.array([c.corners.mean(axis=0) for c in sound]).reshape(-1, 2)
    found: list[Candidate] = []
    for candidate in sound:
        ring = candidate.corners.astype(np.float32)
        if sum(cv2.pointPolygonTest(ring, (float(x), float(y)), False) > 0 for x, y in middles) > 3:
            continue
        for part in divided(candidate.corners, maps):
            if not any(_same(part, c.corners, 3 * s.same_corner) for c in found):
                found.append(Candidate(part, "divided"))
    return found


def _same(a: np.ndarray, b: np.ndarray, near: float) -> bool:
    return len(a) == len(b) and bool(np.abs(a - b).max() < near)


def weigh(
    candidates: list[Candidate],
    maps: EvidenceMaps,
    art: np.ndarray,
    settings: CandidateSettings | None = None,
    marks: np.ndarray | None = None,
) -> list[Candidate]:
    """Candidates with their evidence and gain, those without gain left out.

    Parameters
    ----------
    candidates : list of Candidate
    maps : EvidenceMaps
    art : ndarray of uint8, shape (M, N)
        1 where something is drawn.
    settings : CandidateSettings or None
    marks : ndarray or None
        `large_marks` of the art, where it is known already.
    """
    s = settings or CandidateSettings()
    long_side = maps.unit * 1000.0
    total = max(1, int(cv2.countNonZero(art)))
    thin = s.least_side * maps.unit
    candidates = [c for c in candidates if is_simple(c.corners) and _width(c.corners) >= thin]
    size = np.array(art.shape[::-1], dtype=np.float64)
    candidates = [c for c in candidates if not _is_edge_strip(c.corners, size, maps.unit, s)]
    weighed = []
    sums = cv2.integral(art)
    marks = large_marks(art, maps.unit, s) if marks is None else marks
    evidence = side_evidence(maps, [c.corners for c in candidates])
    for candidate, sides in zip(candidates, evidence, strict=True):
        inside = _box_sum(sums, candidate.corners)
        gain = sum(side.worth for side in sides) / long_side
        gain += s.art_gain * inside / total - s.panel_cost - _shape_cost(len(sides), s)
        gain -= s.parted_cost * (1 - candidate.whole)
        if candidate.whole < s.scattered:
            gain -= s.scattered_cost
        if not _holds_any(candidate.corners, marks):
            gain -= s.lettering_cost
        weighed.append(replace(candidate, sides=tuple(sides), art=inside, gain=gain))
    return weighed


def large_marks(
    art: np.ndarray, unit: float, settings: CandidateSettings | None = None
) -> np.ndarray:
    """Boxes (x0, y0, x1, y1) of connected marks too large for lettering, shape (K, 4)."""
    least = (settings or CandidateSettings()).lettering_height * unit
    # This way of OpenCV's is the quickest with counts, though it is not the default.
    _, _, stats, _ = cv2.connectedComponentsWithStatsWithAlgorithm(art, 8, cv2.CV_32S, cv2.CCL_BBDT)
    stats = stats[1:]
    large = stats[stats[:, 2:4].min(axis=1) >= least]
    return np.hstack([large[:, :2], large[:, :2] + large[:, 2:4]]).astype(np.float64)


def _holds_any(corners: np.ndarray, marks: np.ndarray) -> bool:
    """Whether any of the marks has its middle in the box of a ring, or reaches across it."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    first, last = np.maximum(marks[:, :2], low), np.minimum(marks[:, 2:], high)
    common = np.clip(last - first, 0, None).prod(axis=1)
    own = (marks[:, 2:] - marks[:, :2]).prod(axis=1)
    return bool((common >= 0.5 * np.minimum(own, (high - low).prod())).any())


def _shape_cost(corners: int, s: CandidateSettings) -> float:
    """Cost of saying an outline: each of the first corners, and less for points of a curve."""
    more = max(0, corners - s.free_corners)
    return s.corner_cost * (corners - more) + s.curve_cost * more


def _box_sum(sums: np.ndarray, corners: np.ndarray) -> int:
    """Sum of a 0/1 map over the box whose sides are the mean sides of a frame."""
    rows, columns = sums.shape[0] - 1, sums.shape[1] - 1
    x = np.sort(corners[:, 0])
    y = np.sort(corners[:, 1])
    half = len(x) // 2
    x0, x1 = np.clip([x[:half].mean(), x[half:].mean()], 0, columns).astype(int)
    y0, y1 = np.clip([y[:half].mean(), y[half:].mean()], 0, rows).astype(int)
    return int(sums[y1, x1] - sums[y0, x1] - sums[y1, x0] + sums[y0, x0])


def _width(corners: np.ndarray) -> float:
    """Shorter side of the least turned box round a ring: a turned sheet's edge is a thin one."""
    _, sides, _ = cv2.minAreaRect(corners.astype(np.float32))
    return float(min(sides))


def _is_edge_strip(
    corners: np.ndarray, size: np.ndarray, unit: float, s: CandidateSettings
) -> bool:
    """Whether a ring is a long strip along the edge of a page of that size."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    extent = high - low
    short = int(np.argmin(extent))
    # A shadow may run aslant: its box is then wider than it is.
    width = cv2.contourArea(corners.astype(np.float32)) / max(float(extent[1 - short]), 1.0)
    if width > s.strip_width * unit or extent[1 - short] < s.strip * extent[short]:
        return False
    return bool(min(low[short], size[short] - high[short]) <= s.strip_edge * unit)


def is_simple(ring: np.ndarray) -> bool:
    """Whether a ring of shape (K, 2) encloses an area and does not cross itself."""
    shape = Polygon(ring)
    return bool(shape.is_valid and shape.area > 1.0)
