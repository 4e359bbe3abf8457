"""Bursts: art of a panel that sticks out over its border while the frame runs straight through.

A burst is drawn art (a figure, a sound effect, a balloon that straddles) outside of a panel's
outline, joined to it across a drawn side and lying on ground. Lettering is not told from other
art here; once the page's balloons are known, `burst_outlines.without_lettering` takes it out.
What reaches into a neighbour is left out from there on: the ground does not tell whose art it
is. Beyond a side where nothing is drawn, or that runs off the page, nobody knows where the panel
ends, so nothing there is a burst.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from statistics import median

import cv2
import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.panel import GroundKind, Panel, Side, SideState
from panelscan.vision.burst_joins import Frame, JoinSettings, Piece, host_of
from panelscan.vision.burst_outlines import burst_outline, fill_ring
from panelscan.vision.flood import flood_from_edge
from panelscan.vision.ground import GroundMap
from panelscan.vision.working import Working

_NEAREST = np.ones((3, 3), np.uint8)


@dataclass(frozen=True, slots=True)
class BurstSettings:
    """What may be a burst.

    Lengths are in thousandths of the page's long side, areas in their squares.

    Parameters
    ----------
    fringe : float
        Blur of a border beyond its own width.
    wobbles : float
        How many RMS distances a hand-drawn border strays from its side.
    least_area : float
        Smaller pieces are specks.
    least_thick : float
        What is thinner all along, panels counted in, is a shadow or a stray line.
    least_contrast : float
        Colour distance from the ground, in 8-bit levels, of the darkest tenth of a piece.
    edge, most_at_edge : float
        What lies mostly within ``edge`` of the image's edge and touches it is a shadow.
    """

    fringe: float = 1.0
    wobbles: float = 1.5
    least_area: float = 60.0
    least_thick: float = 5.0
    least_contrast: float = 24.0
    edge: float = 10.0
    most_at_edge: float = 0.7


def with_bursts(
    panels: Sequence[Panel],
    work: Working,
    ground: GroundMap,
    settings: BurstSettings | None = None,
) -> list[Panel]:
    """Panels with the parts of their art that stick out over their borders.

    Parameters
    ----------
    panels : sequence of Panel
        Measured, in source pixels.
    work : Working
        The page at working size.
    ground : GroundMap
        Where the working image looks like ground.
    settings : BurstSettings or None

    Returns
    -------
    list of Panel
        The same panels with ``burst`` filled in: outlines in source pixels that begin at the
        panel's own outline, without holes.
    """
    s = settings or BurstSettings()
    if not panels:
        return []
    frames = _frames(panels, work, s)
    owner = _owners(frames, [p.depth for p in panels], ground.mask.shape)
    found: list[list[Outline]] = [[] for _ in panels]
    for piece in _pieces(owner, ground, work.unit_px, _most_area(frames), s):
        host = None if _is_stray(piece, ground, work, s) else host_of(piece, frames, work)
        outline = (
            None if host is None else burst_outline(piece, host, frames, work, ground.distance)
        )
        if host is not None and outline is not None:
            found[host].append(outline)
    return [replace(p, burst=tuple(b)) if b else p for p, b in zip(panels, found, strict=True)]


def _most_area(frames: Sequence[Frame]) -> float:
    return JoinSettings().most_share * max((f.area for f in frames), default=0.0)


def _frames(panels: Sequence[Panel], work: Working, s: BurstSettings) -> list[Frame]:
    scale = float(np.sqrt(abs(np.linalg.det(work.to_source))))
    drawn = [side.border_px for p in panels for side in p.sides if side.border_px is not None]
    usual = median(drawn) if drawn else 0.0
    counts = np.cumsum([len(p.outline.points) for p in panels])
    corners = work.working_points(np.concatenate([p.outline.array() for p in panels]))
    frames = []
    for p, ring in zip(panels, np.split(corners, counts[:-1]), strict=True):
        sides = p.sides or (Side(SideState.INFERRED),) * len(ring)
        widths = [t.border_px for t in sides if t.border_px is not None]
        strays = [t.wobble_px for t in sides if t.wobble_px is not None]
        half = (median(widths) if widths else usual) / 2 / scale
        stray = median(strays) / scale if strays else 0.0
        margin = half + s.wobbles * stray + s.fringe * work.unit_px
        known = np.array([t.state in (SideState.DRAWN, SideState.SHARED) for t in sides])
        # Clipping at the image's edge can put two corners on one point.
        real = np.hypot(*(np.concatenate([ring[1:], ring[:1]]) - ring).T) > 1e-6
        frames.append(Frame(ring[real], half, margin, known[real], bool(widths)))
    return frames


def _owners(frames: Sequence[Frame], depths: Sequence[int], shape: tuple[int, ...]) -> np.ndarray:
    """Panel at each pixel, border counted in, from 1; 0 outside of all; uint16 of (M, N)."""
    owner = np.zeros(shape, np.uint16)
    for k in sorted(range(len(frames)), key=lambda k: (depths[k], -frames[k].area)):
        fill_ring(owner, frames[k].ring, frames[k].margin, k + 1)
    return owner


def _pieces(
    owner: np.ndarray, ground: GroundMap, unit: float, most_area: float, s: BurstSettings
) -> Iterator[Piece]:
    """Pieces of art that touch a panel from outside, none of them of a gutter's own ground."""
    mask = _ground_mask(ground)
    beyond = _beyond(owner, mask)
    if beyond is None:
        return
    cores = cv2.morphologyEx(beyond, cv2.MORPH_OPEN, _NEAREST)
    least = s.least_area * unit**2
    for piece in _parts(cores, beyond, owner, (0, 0), least, most_area):
        x, y = piece.origin
        window = mask[y : y + piece.mask.shape[0], x : x + piece.mask.shape[1]]
        less = _without_stalks(_without_gutter(piece, window), piece.owner, unit, s)
        cores = cv2.morphologyEx(less, cv2.MORPH_OPEN, _NEAREST)
        yield from _parts(cores, less, piece.owner, piece.origin, least, most_area)


def _ground_mask(ground: GroundMap) -> np.ndarray:
    """1 where a pixel looks like ground, uint8 of shape (M, N).

    Thin strokes of a black ground's colour are ink inside panels, but ground between them.
    """
    if ground.ground.kind is not GroundKind.BLACK:
        return ground.mask
    return np.asarray(ground.mask | (ground.distance <= ground.tolerance).view(np.uint8))


def _beyond(owner: np.ndarray, mask: np.ndarray) -> np.ndarray | None:
    """Art outside of all panels, light parts that it encloses included; None if no panel has any.

    The outline of a light figure may have gaps of a pixel or two.
    """
    outside = (owner == 0).view(np.uint8)
    art = cv2.subtract(outside, mask)
    if not cv2.countNonZero(cv2.bitwise_and(art, cv2.dilate(1 - outside, _NEAREST))):
        return None
    light = flood_from_edge(cv2.subtract(outside, cv2.dilate(art, _NEAREST)))
    light = cv2.bitwise_and(cv2.dilate(light, _NEAREST), mask)
    return np.asarray(cv2.subtract(outside, light))


def _parts(
    cores: np.ndarray,
    beyond: np.ndarray,
    owner: np.ndarray,
    origin: tuple[int, int],
    least_area: float,
    most_area: float,
) -> Iterator[Piece]:
    """Connected parts that touch a panel, of cores widened by a pixel within ``beyond``."""
    contours, _ = cv2.findContours(cores, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    for contour in contours:
        x, y, width, height = cv2.boundingRect(contour)
        if width * height < least_area or cv2.contourArea(contour) > most_area:
            continue
        left, top = max(0, x - 3), max(0, y - 3)
        window = (slice(top, y + height + 3), slice(left, x + width + 3))
        part = np.zeros(beyond[window].shape, np.uint8)
        cv2.drawContours(part, [contour - (left, top)], -1, 1, cv2.FILLED)
        part = cv2.dilate(part, _NEAREST) & beyond[window]
        piece = Piece(part, (origin[0] + left, origin[1] + top), owner[window])
        if cv2.countNonZero(part) >= least_area and len(piece.touched):
            yield piece


def _without_gutter(piece: Piece, mask: np.ndarray) -> np.ndarray:
    """Mask of a piece without ground that lies between two panels, cut off there by bursts."""
    if len(piece.touched) < 2:
        return piece.mask
    kept = piece.mask.copy()
    count, labels = cv2.connectedComponents(piece.mask & mask, connectivity=4)
    for c in range(1, count):
        light = (labels == c).view(np.uint8)
        if len(Piece(light, piece.origin, piece.owner).touched) > 1:
            kept[light.view(np.bool_)] = 0
    return kept


def _without_stalks(
    part: np.ndarray, owner: np.ndarray, unit: float, s: BurstSettings
) -> np.ndarray:
    """Mask without what is thin even where panels beside it are counted in."""
    size = 2 * round(s.least_thick * unit / 2) + 1
    with_panels = cv2.bitwise_or(part, (owner > 0).view(np.uint8))
    opened = cv2.morphologyEx(with_panels, cv2.MORPH_OPEN, np.ones((size, size), np.uint8))
    return np.asarray(part & opened)


def _is_stray(piece: Piece, ground: GroundMap, work: Working, s: BurstSettings) -> bool:
    """Whether a piece is hardly darker than ground, or a shadow along the image's edge."""
    x, y = piece.origin
    window = ground.distance[y : y + piece.mask.shape[0], x : x + piece.mask.shape[1]]
    inside = window[piece.mask.view(np.bool_)]
    if np.count_nonzero(inside >= s.least_contrast) < 0.1 * len(inside):
        return True
    points = piece.points
    away = np.minimum(points, np.array(work.size) - points).min(axis=1)
    return bool(away.min() < 3 and (away < s.edge * work.unit_px).mean() > s.most_at_edge)
