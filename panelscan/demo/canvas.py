"""A sheet to draw a scene on: colour below, ink lines above, and a mask of the figure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager

import cv2
import numpy as np

from panelscan.demo.hands import Hand
from panelscan.demo.raster import RGB, SHIFT, fixed, line_band, resample, rounded_path, smooth_noise

Points = np.ndarray | Sequence[Sequence[float]] | Sequence[np.ndarray]


class Canvas:
    """Paint and ink of one panel's scene, in pixels of the canvas itself.

    Parameters
    ----------
    width_px, height_px : int
        Size.
    unit : float
        Pixels per pixel of a page 2,000 px high; widths given to the methods are in these.
    hand : Hand
        How lines come out.
    rng : numpy Generator
        Source of all chance.

    Attributes
    ----------
    paint : ndarray of uint8, shape (M, N, 3)
        RGB colour.
    ink : ndarray of uint8, shape (M, N)
        Darkness of the lines, 255 full.
    figure : ndarray of uint8, shape (M, N), or None
        What was drawn inside `recording`.
    """

    def __init__(
        self, width_px: int, height_px: int, unit: float, hand: Hand, rng: np.random.Generator
    ) -> None:
        self.width, self.height, self.unit = width_px, height_px, unit
        self.hand, self.rng = hand, rng
        self.paint: np.ndarray = np.full((height_px, width_px, 3), 255, np.uint8)
        self.ink: np.ndarray = np.zeros((height_px, width_px), np.uint8)
        self.figure: np.ndarray | None = None

    @contextmanager
    def recording(self) -> Iterator[None]:
        """While open, all that is drawn is also marked as figure (it may break the border)."""
        self.figure = np.zeros_like(self.ink)
        self._live = self.figure
        yield
        self._live = None

    _live: np.ndarray | None = None

    def wash(self, top: RGB, bottom: RGB | None = None) -> None:
        """Cover the whole canvas with one colour, or grade it from top to bottom."""
        if bottom is None:
            self.paint[:] = top
            return
        t = np.linspace(0, 1, self.height, dtype=np.float32)[:, None]
        rows = np.asarray(top, np.float32) * (1 - t) + np.asarray(bottom, np.float32) * t
        self.paint[:] = rows.astype(np.uint8)[:, None, :]

    def fill(self, points: Points, rgb: RGB, line: float = 0.0) -> None:
        """Fill a polygon; it hides the ink below. With ``line`` its contour is drawn too."""
        p = np.asarray(points, dtype=np.float64)
        q = [fixed(p)]
        cv2.fillPoly(self.paint, q, rgb, lineType=cv2.LINE_AA, shift=SHIFT)
        cv2.fillPoly(self.ink, q, 0, lineType=cv2.LINE_AA, shift=SHIFT)
        if self._live is not None:
            cv2.fillPoly(self._live, q, 255, lineType=cv2.LINE_AA, shift=SHIFT)
        if line > 0:
            self.contour(p, line)

    def box(self, x0: float, y0: float, x1: float, y1: float, rgb: RGB, line: float = 1.0) -> None:
        """Upright rectangle, filled and outlined by hand."""
        self.fill([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], rgb)
        if line > 0:
            for a, b in (((x0, y0), (x1, y0)), ((x1, y0), (x1, y1)),
                         ((x1, y1), (x0, y1)), ((x0, y1), (x0, y0))):  # fmt: skip
                self.line([a, b], line)

    def oval(
        self, x: float, y: float, rx: float, ry: float, rgb: RGB, line: float = 1.0,
        turn: float = 0.0, square: float = 0.0,
    ) -> None:  # fmt: skip
        """Ellipse, or with ``square`` towards 1 a rounded box, filled and outlined."""
        self.fill(oval_points(x, y, rx, ry, turn, square), rgb, line)

    def line(self, points: Points, width: float = 1.0, taper: float | None = None) -> None:
        """A contour through the points, in the hand's manner; width in shares of its usual."""
        p = np.asarray(points, dtype=np.float64)
        full = self.hand.line * self.unit * width
        taper = self.hand.taper if taper is None else taper
        p = resample(p, max(9 * self.unit, 2.0))
        if self.hand.wobble and len(p) > 2:
            amount = self.hand.wobble * self.unit
            knots = max(len(p) // 4, 2)
            p = p + np.stack([smooth_noise(self.rng, len(p), knots) for _ in (0, 1)], 1) * amount
        if len(p) < 2:
            return
        if taper < 0.15 or full < 1.6:
            self._even_line(p, full)
            return
        t = np.linspace(0, 1, len(p))
        ends = 1 - taper * np.abs(2 * t - 1) ** 3
        swell = 1 + 0.35 * taper * smooth_noise(self.rng, len(p), 4)
        self._ink_polygon(line_band(p, np.maximum(full * ends * swell, 0.7)))

    def contour(self, points: np.ndarray, width: float = 1.0) -> None:
        """Closed contour of a shape."""
        self.line(np.concatenate([points, points[:1]]), width)

    def spot(self, points: Points) -> None:
        """Solid black (in the style's ink)."""
        self._ink_polygon(np.asarray(points, dtype=np.float64))

    def strokes(self, lines: Iterable[Points], width: float = 0.5, shade: int = 255) -> None:
        """Many plain thin strokes at once (hatching, rain, speed lines)."""
        q = [fixed(np.asarray(p, dtype=np.float64)) for p in lines]
        if q:
            thick = max(round(self.hand.line * self.unit * width), 1)
            cv2.polylines(self.ink, q, False, shade, thick, cv2.LINE_AA, SHIFT)

    def hatch(
        self, points: Points, angle_deg: float, gap: float = 7.0, width: float = 0.35
    ) -> None:
        """Fill a polygon with parallel strokes of ink, ``gap`` units apart."""
        p = np.asarray(points, dtype=np.float64)
        x0, y0 = np.floor(p.min(axis=0)).astype(int)
        x1, y1 = np.ceil(p.max(axis=0)).astype(int)
        x0, y0 = max(x0, 0), max(y0, 0)
        x1, y1 = min(x1, self.width), min(y1, self.height)
        if x1 <= x0 or y1 <= y0:
            return
        shape = np.zeros((y1 - y0, x1 - x0), np.uint8)
        lines = np.zeros_like(shape)
        cv2.fillPoly(shape, [fixed(p - (x0, y0))], 255, shift=SHIFT)
        strokes = hatch_lines(x1 - x0, y1 - y0, angle_deg, gap * self.unit, self.rng)
        thick = max(round(self.hand.line * self.unit * width), 1)
        cv2.polylines(lines, [fixed(s) for s in strokes], False, 255, thick, cv2.LINE_AA, SHIFT)
        part = self.ink[y0:y1, x0:x1]
        np.maximum(part, lines & shape, out=part)

    def _even_line(self, p: np.ndarray, full: float) -> None:
        thick = max(round(full), 1)
        shade = round(255 * min(1.0, max(full, 0.5) / thick))
        cv2.polylines(self.ink, [fixed(p)], False, shade, thick, cv2.LINE_AA, SHIFT)
        if self._live is not None:
            cv2.polylines(self._live, [fixed(p)], False, 255, thick, cv2.LINE_AA, SHIFT)

    def _ink_polygon(self, polygon: np.ndarray) -> None:
        cv2.fillPoly(self.ink, [fixed(polygon)], 255, lineType=cv2.LINE_AA, shift=SHIFT)
        if self._live is not None:
            cv2.fillPoly(self._live, [fixed(polygon)], 255, lineType=cv2.LINE_AA, shift=SHIFT)


def oval_points(
    x: float, y: float, rx: float, ry: float, turn: float = 0.0, square: float = 0.0, n: int = 36
) -> np.ndarray:
    """Corners of an ellipse (``square`` 0) to a rounded box (towards 1), shape (n, 2)."""
    t = np.linspace(0, 2 * np.pi, n, endpoint=False)
    power = 2 / (2 + 6 * square)
    c, s = np.cos(t), np.sin(t)
    px = np.sign(c) * np.abs(c) ** power * rx
    py = np.sign(s) * np.abs(s) ** power * ry
    a = np.radians(turn)
    return np.stack([x + px * np.cos(a) - py * np.sin(a), y + px * np.sin(a) + py * np.cos(a)], 1)


def limb_points(joints: Points, widths: Sequence[float], rounds: int = 2) -> np.ndarray:
    """Outline of a limb through its joints, with a full width at each joint."""
    j = np.asarray(joints, dtype=np.float64)
    both = np.concatenate([j, np.asarray(widths, dtype=np.float64)[:, None]], axis=1)
    smooth = rounded_path(both, rounds)
    return line_band(smooth[:, :2], smooth[:, 2])


def hatch_lines(
    width: float, height: float, angle_deg: float, gap: float, rng: np.random.Generator
) -> list[np.ndarray]:
    """Parallel strokes with a shaking hand's spread over a box, as short paths."""
    reach = float(np.hypot(width, height)) / 2 + gap
    count = max(int(2 * reach / max(gap, 1.0)), 1)
    offsets = (np.arange(count) - count / 2) * gap + rng.normal(size=count) * gap * 0.14
    a = np.radians(angle_deg)
    along, across = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
    middle = np.array([width / 2, height / 2])
    bend = rng.normal(size=(count, 2)) * gap * 0.25
    lines = []
    for k in range(count):
        base = middle + across * offsets[k]
        lines.append(
            np.array([
                base - along * reach + across * bend[k, 0],
                base + across * bend[k, 1],
                base + along * reach,
            ])
        )  # fmt: skip
    return lines
