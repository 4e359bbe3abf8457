"""Drawing primitives for pictures of what was found: lines with a halo, patterns, words.

Coordinates are pixels of the canvas, x before y, (0, 0) the corner of the first pixel. The
colours are the eight that M. Okabe and K. Ito chose to be told apart by all kinds of colour
vision ("Color universal design", 2008; values from memory); every meaning also has a line
pattern of its own, so that a gray print still reads.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

Color = tuple[int, int, int]
INK: Color = (24, 24, 28)
PAPER: Color = (255, 255, 255)
ORANGE: Color = (230, 159, 0)
SKY: Color = (86, 180, 233)
GREEN: Color = (0, 158, 115)
YELLOW: Color = (240, 228, 66)
BLUE: Color = (0, 114, 178)
VERMILION: Color = (213, 94, 0)
PURPLE: Color = (204, 121, 167)
GRAY: Color = (120, 120, 128)

_FRACTION_BITS = 4


class Drawing:
    """An RGB picture to draw on.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (M, N, 3)
        Drawn on in place.
    unit : float
        A hair's width: 1 on a picture of about 1,000 pixels; line widths follow it.
    """

    def __init__(self, pixels: np.ndarray, unit: float = 1.0) -> None:
        self.pixels = np.ascontiguousarray(pixels)
        self.unit = unit

    def wash(self, mask: np.ndarray, color: Color, strength: float) -> None:
        """Lay a transparent colour where a mask of the picture's size is true."""
        where = np.asarray(mask, dtype=bool)
        mixed = self.pixels[where] * (1 - strength) + np.array(color) * strength
        self.pixels[where] = np.rint(mixed).astype(np.uint8)

    def fill(self, points: np.ndarray, color: Color, strength: float = 1.0) -> None:
        """Fill a polygon, transparent unless the strength is 1."""
        ring = _fixed(points)
        if strength >= 1:
            cv2.fillPoly(self.pixels, [ring], color, cv2.LINE_AA, _FRACTION_BITS)
            return
        mask = np.zeros(self.pixels.shape[:2], np.uint8)
        cv2.fillPoly(mask, [ring], 1, shift=_FRACTION_BITS)
        self.wash(mask, color, strength)

    def line(
        self,
        points: np.ndarray,
        color: Color,
        width: float = 3.0,
        dash: Sequence[float] = (),
        halo: float = 2.0,
        closed: bool = False,
    ) -> None:
        """Polyline with a light halo, whole or in dashes (on, off, ... in hair's widths)."""
        path = np.asarray(points, dtype=np.float64)
        if closed:
            path = np.vstack([path, path[:1]])
        runs = _dashes(path, [d * self.unit for d in dash]) if dash else [path]
        thin = max(1, round(width * self.unit))
        if halo:
            wide = max(thin + 2, round((width + 2 * halo) * self.unit))
            self._strokes(runs, PAPER, wide)
        self._strokes(runs, color, thin)

    def _strokes(self, runs: Sequence[np.ndarray], color: Color, width: int) -> None:
        for run in runs:
            ring = [_fixed(run)]
            cv2.polylines(self.pixels, ring, False, color, width, cv2.LINE_AA, _FRACTION_BITS)

    def disc(self, center: Sequence[float], radius: float, color: Color, rim: Color = INK) -> None:
        """Filled circle with a rim; the radius in canvas pixels."""
        x, y = (round(v * 16) for v in center)
        r, w = round(radius * 16), max(1, round(2 * self.unit))
        cv2.circle(self.pixels, (x, y), r, color, -1, cv2.LINE_AA, _FRACTION_BITS)
        cv2.circle(self.pixels, (x, y), r, rim, w, cv2.LINE_AA, _FRACTION_BITS)

    def arrow(self, tip: np.ndarray, toward: np.ndarray, color: Color, size: float) -> None:
        """Filled arrowhead with its tip at a place, pointing along a direction."""
        u = np.asarray(toward, float) / max(float(np.hypot(*toward)), 1e-9)
        n = np.array([-u[1], u[0]])
        head = np.array([tip, tip - u * size + n * size * 0.55, tip - u * size - n * size * 0.55])
        self.line(head, PAPER, 3.0, halo=0, closed=True)
        self.fill(head, color)

    def words(
        self,
        text: str,
        at: Sequence[float],
        size: float,
        color: Color = INK,
        anchor: str = "mm",
        halo: bool = True,
    ) -> None:
        """Write a line of text; `size` in canvas pixels, `anchor` as Pillow's text anchors."""
        font = ImageFont.load_default(max(6.0, size))
        edge = max(1, round(size / 7)) if halo else 0
        left, top, right, bottom = font.getbbox(text, anchor=anchor, stroke_width=edge)
        x0, y0 = round(at[0] + left) - 2, round(at[1] + top) - 2
        x1, y1 = round(at[0] + right) + 3, round(at[1] + bottom) + 3
        x0, y0 = max(0, x0), max(0, y0)
        x1, y1 = min(self.pixels.shape[1], x1), min(self.pixels.shape[0], y1)
        if x1 <= x0 or y1 <= y0:
            return
        # Only the patch below the words passes through Pillow, not the whole picture.
        patch = Image.fromarray(self.pixels[y0:y1, x0:x1])
        ImageDraw.Draw(patch).text(
            (at[0] - x0, at[1] - y0), text, fill=color, font=font, anchor=anchor,
            stroke_width=edge, stroke_fill=PAPER,
        )  # fmt: skip
        self.pixels[y0:y1, x0:x1] = np.asarray(patch)

    def hatch(self, points: np.ndarray, color: Color, gap: float = 9.0) -> None:
        """Slanted thin strokes across a polygon, for areas that a print must show too."""
        mask = np.zeros(self.pixels.shape[:2], np.uint8)
        cv2.fillPoly(mask, [_fixed(points)], 1, shift=_FRACTION_BITS)
        rows, columns = np.nonzero(mask)
        if not len(rows):
            return
        step = max(4.0, gap * self.unit)
        on = ((rows + columns) % step) < max(1.0, 1.1 * self.unit)
        self.pixels[rows[on], columns[on]] = color


def text_width(text: str, size: float) -> float:
    """Width of a line of text in canvas pixels."""
    return float(ImageFont.load_default(max(6.0, size)).getlength(text))


def smooth_path(points: np.ndarray, per_piece: int = 40) -> np.ndarray:
    """Curve through points (centripetal Catmull-Rom spline), shape (K, 2) to (J, 2).

    Notes
    -----
    Centripetal spacing keeps the curve from looping between points at uneven distances
    (C. Yuksel, S. Schaefer, J. Keyser 2011, Computer-Aided Design 43:747-755; from memory).
    """
    p = np.asarray(points, dtype=np.float64)
    if len(p) < 3:
        return p
    p = np.vstack([2 * p[0] - p[1], p, 2 * p[-1] - p[-2]])
    curve = []
    for a, b, c, d in zip(p[:-3], p[1:-2], p[2:-1], p[3:], strict=True):
        knots = np.cumsum(
            [0.0, *(max(float(np.hypot(*s)), 1e-6) ** 0.5 for s in (b - a, c - b, d - c))]
        )
        t = np.linspace(knots[1], knots[2], per_piece, endpoint=False)[:, None]
        k0, k1, k2, k3 = knots
        ab = a + (b - a) * (t - k0) / (k1 - k0)
        bc = b + (c - b) * (t - k1) / (k2 - k1)
        cd = c + (d - c) * (t - k2) / (k3 - k2)
        first = ab + (bc - ab) * (t - k0) / (k2 - k0)
        second = bc + (cd - bc) * (t - k1) / (k3 - k1)
        curve.append(first + (second - first) * (t - k1) / (k2 - k1))
    return np.asarray(np.vstack([*curve, p[-2][None]]))


def _fixed(points: np.ndarray) -> np.ndarray:
    """Points for OpenCV's fixed-point drawing, whose pixel centres lie on whole numbers."""
    scaled = (np.asarray(points, dtype=np.float64) - 0.5) * 2**_FRACTION_BITS
    return np.asarray(np.round(scaled), dtype=np.int32)


def _dashes(path: np.ndarray, pattern: Sequence[float]) -> list[np.ndarray]:
    """Pieces of a polyline that a repeated pattern (on, off, on, off ...) leaves standing."""
    steps = np.hypot(*np.diff(path, axis=0).T)
    places = np.concatenate([[0.0], np.cumsum(steps)])
    total, at, turn = float(places[-1]), 0.0, 0
    runs: list[np.ndarray] = []
    if sum(pattern) <= 0:
        return [path]
    while at < total:
        end = min(total, at + pattern[turn % len(pattern)])
        if turn % 2 == 0:
            inner = places[(places > at) & (places < end)]
            stops = np.concatenate([[at], inner, [end]])
            x = np.interp(stops, places, path[:, 0])
            y = np.interp(stops, places, path[:, 1])
            runs.append(np.stack([x, y], axis=1))
        at, turn = end, turn + 1
    return runs
