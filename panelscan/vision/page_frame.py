"""The page inside its image: on a scanner's bed, in a phone's photo, or filling it (step S1).

A page is told from its surround by three signs, after the winning idea of the SmartDoc 2015
contest (a quadrilateral that scores well on contour and on inside against outside; J.-C. Burie
et al. 2015, ICDAR, "SmartDoc: competition on smartphone document capture and OCR"; second-hand):
its four sides are seen, inside and outside differ, and outside is empty of page. Two rough
masks propose quadrilaterals: all that is not of the rim's colour, and the largest light region.

Three things look alike and must not be taken for a page: the block of panels on a white page
(its rim is no even paper, or is a drawn line), panels on a black ground (gutters run in from
outside), and a designed margin (exactly level and centred).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.vision.frame_sides import fitted_sides, quad_of_sides, touches_image
from panelscan.vision.shrinking import halved_page
from panelscan.vision.stroke import SideFit, measure_sides

SMALL_LONG_SIDE_PX = 540
MEASURE_LONG_SIDE_PX = 900
LIGHT_BED = 200.0
LEAST_PAGE_SHARE = 0.35
LEAST_TILT_DEG = 0.1
_NEUTRAL = np.array([128.0, 0.0, 0.0, 0.0])


@dataclass(frozen=True, slots=True)
class PageFrame:
    """Where the page lies in the decoded image.

    Parameters
    ----------
    outline : Outline
        Four corners in decoded pixels, from the page's own top left on.
    confidence : float
        Probability that the page ends there, 0..1.
    kind : str
        ``"whole"`` (it fills the image), ``"bed"`` (upright or turned on an even surround) or
        ``"photo"`` (seen at an angle, or on an uneven surround).
    """

    outline: Outline
    confidence: float
    kind: str


@dataclass(frozen=True, eq=False)
class _Surround:
    """Idea of what lies around the page, at small size.

    Parameters
    ----------
    mask : ndarray of uint8, shape (M, N)
        1 where the page may be.
    outside : ndarray of uint8, shape (M, N)
        1 where a pixel looks like the surround and is joined to the image's edge.
    field : ndarray of float32, shape (M, N, 3)
        Its Lab colour (8-bit) at every place.
    even : bool
        Whether the surround has one colour.
    """

    mask: np.ndarray
    outside: np.ndarray
    field: np.ndarray
    even: bool


def find_page_frame(image: PageImage) -> PageFrame:
    """Find the page inside an image.

    Parameters
    ----------
    image : PageImage
        The picture as decoded, upright.

    Returns
    -------
    PageFrame
        The whole image where no page edge is seen.

    Examples
    --------
    >>> pixels = np.full((600, 420), 20, np.uint8)
    >>> pixels[30:580, 25:400] = 240
    >>> frame = find_page_frame(PageImage(pixels, 420, 600))
    >>> frame.kind, [round(v) for v in frame.outline.bounds]
    ('bed', [25, 30, 400, 580])
    """
    rows, columns = image.pixels.shape[:2]
    whole = PageFrame(Outline.box(0, 0, columns, rows), 0.9, "whole")
    if min(rows, columns) < 40:
        return whole
    medium, cover = halved_page(image, MEASURE_LONG_SIDE_PX)
    grow = 1.0 / np.array(cover)
    small, more = _reduced(medium, SMALL_LONG_SIDE_PX)
    scale = grow * more
    lab = _lab(small)
    best: tuple[float, np.ndarray, bool] | None = None
    for surround in _surrounds(lab):
        sides = fitted_sides(surround.mask)
        quad = quad_of_sides(sides, lab.shape[:2])
        if quad is None:
            continue
        score = _score(lab, quad, surround)
        if score > 0.5 and (best is None or score > best[0]):
            best = score, quad, surround.even
    if best is None:
        return whole
    return _measured(medium, grow, best[1] / scale, best[0], best[2]) or whole


def _reduced(pixels: np.ndarray, long_side: int) -> tuple[np.ndarray, np.ndarray]:
    """Smaller copy, and its pixels per pixel of the original along x and y."""
    rows, columns = pixels.shape[:2]
    share = min(1.0, long_side / max(rows, columns))
    size = max(1, round(columns * share)), max(1, round(rows * share))
    # From less than twice the size, interpolation skips nothing that masks of a page need.
    small = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_LINEAR))
    return small, np.array([size[0] / columns, size[1] / rows])


def _lab(small: np.ndarray) -> np.ndarray:
    rgb = small if small.ndim == 3 else cv2.cvtColor(small, cv2.COLOR_GRAY2RGB)
    return np.asarray(cv2.cvtColor(cv2.medianBlur(rgb, 3), cv2.COLOR_RGB2LAB)).astype(np.float32)


def _rim(lab: np.ndarray, share: float = 0.008) -> np.ndarray:
    band = max(2, round(share * max(lab.shape[:2])))
    parts = lab[:band], lab[-band:], lab[:, :band], lab[:, -band:]
    return np.concatenate([p.reshape(-1, lab.shape[2]) for p in parts])


def _surrounds(lab: np.ndarray) -> list[_Surround]:
    """Ideas of the surround: each common colour of the rim, and all that is not light paper."""
    ideas = []
    for color in _common_colors(_rim(lab), 3):
        field, spread = _bed_field(lab, color)
        off_light, off_tint = _apart(lab, field)
        # A bed may be cloudy in lightness and yet of one tint, which paper seldom shares.
        alike = (off_light <= np.clip(4.0 * spread[0] + 3.0, 7.0, 26.0)).astype(np.uint8)
        alike &= (off_tint <= np.clip(3.5 * spread[1] + 2.5, 5.0, 16.0)).astype(np.uint8)
        outside = _joined_to_edge(alike)
        ideas.append(_Surround(1 - outside, outside, field, True))
    light = _light_region(lab)
    if light is not None:
        field = np.broadcast_to(np.median(_rim(lab), axis=0), lab.shape)
        ideas.append(_Surround(light, 1 - light, field, False))
    return ideas


def _bed_field(lab: np.ndarray, color: np.ndarray) -> tuple[np.ndarray, tuple[float, float]]:
    """Colour of a bed over the image (light falls off slowly), and how far its pixels stray.

    The two figures are the median distances in lightness and in tint.
    """
    rows, columns = lab.shape[:2]
    rim, places = _rim(lab), _rim(_basis(rows, columns))
    surface = np.zeros((6, 3))
    surface[0] = color
    spread = 6.0, 3.0
    for limit in (16.0, 20.0, 14.0):
        light, tint = _apart(rim, places @ surface)
        near = (light <= limit) & (tint <= 0.7 * limit)
        if near.sum() < 40:
            break
        spread = float(np.median(light[near])), float(np.median(tint[near]))
        a = places[near]
        # Curvature is held back: the rim says little about the middle of the image.
        ridge = np.diag([0.0, 0.01, 0.01, 0.1, 0.1, 0.1]) * near.sum()
        shift = np.linalg.solve(a.T @ a + ridge, a.T @ (rim[near] - color))
        surface = shift + np.vstack([color, np.zeros((5, 3))])
    coarse = (_basis(24, 24) @ surface).astype(np.float32)
    return np.asarray(cv2.resize(coarse, (columns, rows))), spread


@lru_cache(maxsize=4)
def _basis(rows: int, columns: int) -> np.ndarray:
    y, x = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : columns * 1j].astype(np.float32)
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def _apart(lab: np.ndarray, field: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distances in lightness and in tint, in 8-bit levels."""
    if lab.ndim == 2:
        d = lab - field
        return np.asarray(np.abs(d[:, 0])), np.asarray(np.hypot(d[:, 1], d[:, 2]))
    light, red, blue = cv2.split(cv2.subtract(lab, field))
    return np.abs(light), np.asarray(cv2.magnitude(red, blue))


def _common_colors(pixels: np.ndarray, count: int) -> list[np.ndarray]:
    cells = (pixels / [14, 10, 10]).astype(np.int64) @ np.array([4096, 64, 1])
    values, counts = np.unique(cells, return_counts=True)
    found: list[np.ndarray] = []
    for cell in values[np.argsort(-counts, kind="stable")[:8]]:
        color = np.median(pixels[cells == cell], axis=0)
        if (cells == cell).mean() < 0.04 or len(found) >= count:
            break
        if all(np.abs(color - other).max() > 14 for other in found):
            found.append(color)
    return found


def _joined_to_edge(mask: np.ndarray) -> np.ndarray:
    padded = cv2.copyMakeBorder(mask, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=1)
    cv2.floodFill(padded, None, (0, 0), 2, flags=4)
    return np.asarray(padded[1:-1, 1:-1] == 2, dtype=np.uint8)


def _light_region(lab: np.ndarray) -> np.ndarray | None:
    """Largest region of light paper, its holes filled; None where it is the whole image."""
    light, red, blue = (np.asarray(plane) for plane in cv2.split(lab.astype(np.uint8)))
    level, _ = cv2.threshold(light, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    tint = np.maximum(cv2.absdiff(red, _NEUTRAL), cv2.absdiff(blue, _NEUTRAL))
    pale = ((light > max(110.0, level)) & (tint < 34)).view(np.uint8)
    paper = cv2.morphologyEx(pale, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(paper, connectivity=4)
    if count < 2:
        return None
    largest = int(np.argmax(stats[1:, 2] * stats[1:, 3])) + 1
    region = (labels == largest).astype(np.uint8)
    contours, _ = cv2.findContours(region, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    filled = cv2.drawContours(np.zeros_like(region), contours, -1, 1, cv2.FILLED)
    share = float(filled.mean())
    return np.asarray(filled) if LEAST_PAGE_SHARE < share < 0.985 else None


def _score(lab: np.ndarray, quad: np.ndarray, surround: _Surround) -> float:
    """How much a quadrilateral looks like a page in its surround, 0..1; above 0.5 it does."""
    shape = lab.shape[:2]
    inside = _stencil(quad, shape)
    if inside.mean() < LEAST_PAGE_SHARE or all(touches_image(quad, shape)):
        return 0.0
    core = _stencil(_shrunk(quad, 0.012), shape)
    around = 1 - _stencil(_shrunk(quad, -0.008), shape)
    if around.sum() < 40:
        return 0.0
    intruding = cv2.mean(surround.outside, core)[0]
    empty = cv2.mean(surround.outside, around)[0]
    rim = _rim_paper(lab, quad, surround.field)
    tilted = _tilt_deg(quad) >= LEAST_TILT_DEG
    if surround.even:
        return _even_score(rim, intruding, empty, tilted)
    # Uneven surround: it must not look like paper, and paper must line the page all round.
    likeness = float((np.abs(lab[around > 0] - rim.paper).max(axis=1) < 14).mean())
    central = np.abs(quad.mean(axis=0) / np.array(shape[::-1]) - 0.5).max() < 0.12
    if not (tilted and central) or rim.evenness < 0.6 or likeness > 0.15:
        return 0.0
    return 0.5 + 0.45 * rim.evenness * (1 - likeness) if intruding <= 0.02 and empty > 0.93 else 0.0


@dataclass(frozen=True, eq=False)
class _Rim:
    """What lines a quadrilateral inside: commonest Lab colour, share of the length, contrast."""

    paper: np.ndarray
    evenness: float
    contrast: float
    bed_light: float

    @property
    def is_paper(self) -> bool:
        """Even, light and of little colour."""
        pale = self.paper[0] > 140 and np.abs(self.paper[1:] - 128).max() < 27
        return bool(pale and self.evenness >= 0.6)


def _even_score(rim: _Rim, intruding: float, empty: float, tilted: bool) -> float:
    if empty < 0.9 or intruding > 0.012:
        return 0.0
    if rim.contrast < (6.0 if rim.evenness > 0.9 and empty > 0.97 else 9.0):
        return 0.0
    if not rim.is_paper and (rim.bed_light > LIGHT_BED or not tilted):
        return 0.0
    if rim.bed_light > LIGHT_BED and rim.evenness < 0.8:
        return 0.0
    if not tilted and (intruding > 0.002 or rim.paper[0] < 185 or rim.evenness < 0.8):
        # Level to the hundredth of a degree is how a page is drawn: then only plain paper counts.
        return 0.0
    worth = 0.35 * min(1.0, rim.contrast / 40) + 0.35 * rim.evenness + 0.3 * empty
    return 0.5 + 0.5 * worth * (1.0 if rim.is_paper else 0.7)


def _rim_paper(lab: np.ndarray, quad: np.ndarray, field: np.ndarray) -> _Rim:
    """What lines the quadrilateral just inside, against the surround's colour there."""
    share = np.linspace(0.03, 0.97, 60)
    rows, columns = lab.shape[:2]
    colors, sides, beds = [], [], []
    for depth in (0.012, 0.018):
        ring = _shrunk(quad, depth)
        for i in range(4):
            points = ring[i] + share[:, None] * (ring[(i + 1) % 4] - ring[i])
            x = np.clip(points[:, 0].astype(int), 0, columns - 1)
            y = np.clip(points[:, 1].astype(int), 0, rows - 1)
            colors.append(lab[y, x])
            beds.append(field[y, x])
            sides.append(np.full(len(share), i))
    every = np.concatenate(colors)
    common = _common_colors(every, 1)
    paper = common[0] if common else np.median(every, axis=0)
    # Light falls off over a photo, so lightness may stray more than colour.
    off = np.abs(every - paper) <= [34, 12, 12]
    alike = off.all(axis=1)
    by_side = np.array([alike[np.concatenate(sides) == i].mean() for i in range(4)])
    # One side may bleed; the other three say whether this is paper.
    evenness = float(np.sort(by_side)[1:].mean())
    bed = np.concatenate(beds)
    contrast = float(np.median(np.abs(every - bed).max(axis=1)[alike])) if alike.any() else 0.0
    return _Rim(paper, evenness, contrast, float(np.median(bed[:, 0])))


def _tilt_deg(quad: np.ndarray) -> float:
    """How far the sides are from level and plumb at most (a drawn margin is exactly so)."""
    run = np.abs(np.roll(quad, -1, axis=0) - quad)
    return float(np.degrees(np.arctan2(run.min(axis=1), run.max(axis=1))).max())


def _stencil(quad: np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
    stencil = np.zeros(shape, np.uint8)
    cv2.fillPoly(stencil, [np.round((quad - 0.5) * 16).astype(np.int32)], 1, shift=4)
    return stencil


def _shrunk(quad: np.ndarray, share: float) -> np.ndarray:
    """Corners moved towards the middle by a share of the mean side."""
    middle = quad.mean(axis=0)
    size = np.sqrt(abs(cv2.contourArea(quad.astype(np.float32))))
    off = quad - middle
    return np.asarray(middle + off - np.sign(off) * share * size)


def _measured(
    medium: np.ndarray, scale: np.ndarray, quad: np.ndarray, score: float, even: bool
) -> PageFrame | None:
    """Sides measured on a larger copy; None where they turn out to be drawn lines.

    `scale` is the copy's size over the decoded image's, the quadrilateral is in decoded pixels.
    """
    gray = medium if medium.ndim == 2 else cv2.cvtColor(medium, cv2.COLOR_RGB2GRAY)
    rough = quad * scale
    search = 0.006 * max(gray.shape) + 2
    at_edge = touches_image(rough, gray.shape)
    ring = np.hstack([rough, np.roll(rough, -1, axis=0)])
    seen = [i for i in range(4) if not at_edge[i]]
    fits = [SideFit((float(a), float(b)), (float(c), float(d))) for a, b, c, d in ring]
    for i, fit in zip(seen, measure_sides(gray, ring[seen], search), strict=True):
        fits[i] = fit
    drawn = [f.kind == "line" and f.contrast > 60 and f.support > 0.6 for f in fits]
    if sum(drawn) >= 3:
        return None
    support = np.mean([f.support for f, edge in zip(fits, at_edge, strict=True) if not edge])
    lines = [(np.asarray(f.p0), np.asarray(f.p1)) for f in fits]
    corners = quad_of_sides(lines, gray.shape)
    if corners is None:
        return None
    outline = Outline.of(corners / scale)
    turned = _perspective(outline) or not even
    confidence = float(np.clip(score * (0.55 + 0.45 * support), 0, 0.99))
    return PageFrame(outline, confidence, "photo" if turned else "bed")


def _perspective(outline: Outline) -> bool:
    """Whether opposite sides are more than about half a degree out of parallel."""
    run = np.roll(outline.array(), -1, axis=0) - outline.array()
    angle = np.degrees(np.arctan2(run[:, 1], run[:, 0]))
    apart = [(angle[i] - angle[i + 2] + 90) % 180 - 90 for i in range(2)]
    return bool(max(abs(a) for a in apart) > 0.6)
