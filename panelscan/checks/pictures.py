"""Findings and comparisons drawn as pixels, on the artist's own picture where there is one."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from panelscan.checks.compare import ChangeKind, Comparison
from panelscan.checks.findings import CheckReport, Finding, Weight
from panelscan.checks.overlay import badge_places
from panelscan.checks.page import CheckedPage
from panelscan.model.formats import Box
from panelscan.model.outline import Outline, Point
from panelscan.model.page import PageImage

Colour = tuple[int, int, int]
_COLOURS: dict[Weight, Colour] = {
    Weight.PRINT: (179, 38, 30),
    Weight.LOOK: (160, 90, 0),
    Weight.NOTE: (74, 90, 106),
}
_PANEL, _GUIDE, _PAPER = (95, 107, 118), (127, 184, 204), (251, 250, 246)
_BEFORE, _AFTER, _MOVE = (58, 124, 165), (29, 29, 31), (193, 68, 14)
_FINE = 16  # sixteenths of a pixel for cv2's fixed-point drawing


class _Canvas:
    """A picture to draw on in the units of a frame."""

    def __init__(self, box: Box, long_side_px: int) -> None:
        self.box = box
        self.scale = long_side_px / max(box[2] - box[0], box[3] - box[1])
        size = (
            max(1, round((box[3] - box[1]) * self.scale)),
            max(1, round((box[2] - box[0]) * self.scale)),
        )
        self.pixels = np.full((*size, 3), _PAPER, dtype=np.uint8)

    def at(self, points: Sequence[Point]) -> np.ndarray:
        """Points in pixels, edges on whole numbers."""
        return np.asarray((np.asarray(points, dtype=float) - self.box[:2]) * self.scale)

    def line(
        self, points: Sequence[Point], colour: Colour, width_px: int, closed: bool = False
    ) -> None:
        import cv2

        fixed = np.round((self.at(points) - 0.5) * _FINE).astype(np.int32)
        cv2.polylines(self.pixels, [fixed], closed, colour, width_px, cv2.LINE_AA, shift=4)

    def fill(self, outline: Outline, colour: Colour) -> None:
        import cv2

        fixed = np.round((self.at(outline.points) - 0.5) * _FINE).astype(np.int32)
        cv2.fillPoly(self.pixels, [fixed], colour, shift=4)

    def dashed(self, outline: Outline, colour: Colour, width_px: int, dash_px: float) -> None:
        ring = [*outline.points, outline.points[0]]
        for a, b in pairwise(ring):
            length = float(np.hypot(b[0] - a[0], b[1] - a[1])) * self.scale
            for k in range(max(1, int(length / (1.8 * dash_px)))):
                s, e = 1.8 * dash_px * k / length, min(1.0, (1.8 * k + 1) * dash_px / length)
                part = [
                    (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])) for t in (s, max(s, e))
                ]
                self.line(part, colour, width_px)

    def disc(self, place: Point, radius_px: float, colour: Colour) -> None:
        import cv2

        x, y = np.round((self.at([place])[0] - 0.5) * _FINE).astype(int)
        size = round(radius_px * _FINE)
        cv2.circle(self.pixels, (int(x), int(y)), size, colour, -1, cv2.LINE_AA, shift=4)

    def text(self, place_px: Point, text: str, height_px: float, colour: Colour) -> None:
        """Text with its left middle at that pixel (cv2's built-in plain letters)."""
        import cv2

        scale, pen = height_px / 21.0, max(1, round(height_px / 11))
        x, y = round(place_px[0]), round(place_px[1] + height_px / 2)
        face = cv2.FONT_HERSHEY_SIMPLEX
        plain = text.encode("ascii", "replace").decode("ascii")
        wide = cv2.getTextSize(plain, face, scale, pen)[0][0]
        scale *= min(1.0, (self.pixels.shape[1] - x - 4) / max(1, wide))
        cv2.putText(self.pixels, plain, (x, y), face, scale, colour, pen, cv2.LINE_AA)

    def paste(self, picture: np.ndarray, corners: Sequence[Point], pale: float) -> None:
        """Lay a picture so that its corners fall on those points, paled by that share."""
        import cv2

        rows, columns = picture.shape[:2]
        source = np.array([(0, 0), (columns, 0), (columns, rows), (0, rows)], np.float32) - 0.5
        goal = (self.at(corners) - 0.5).astype(np.float32)
        matrix = cv2.getPerspectiveTransform(source, goal)
        colour = picture if picture.ndim == 3 else np.repeat(picture[..., None], 3, axis=2)
        size = (self.pixels.shape[1], self.pixels.shape[0])
        shrink = min(1.0, 2 * max(size) / max(rows, columns))
        if shrink < 1:
            colour = cv2.resize(colour, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
            matrix = matrix @ np.diag([columns / colour.shape[1], rows / colour.shape[0], 1.0])
        laid = cv2.warpPerspective(colour, matrix, size, flags=cv2.INTER_LINEAR)
        inside = cv2.warpPerspective(
            np.full(colour.shape[:2], 255, np.uint8), matrix, size, flags=cv2.INTER_NEAREST
        )
        soft = 255 - (255 - laid.astype(np.float32)) * (1 - pale)
        self.pixels[inside > 0] = soft[inside > 0].astype(np.uint8)


def overlay_pixels(
    page: CheckedPage,
    report: CheckReport,
    picture: np.ndarray | None = None,
    long_side_px: int = 1600,
) -> np.ndarray:
    """The page with its findings, numbered as in the report.

    Parameters
    ----------
    page : CheckedPage
        The page.
    report : CheckReport
        Its findings.
    picture : ndarray of uint8, shape (M, N) or (M, N, 3), optional
        The page's own picture, cropped to its frame, upright.
    long_side_px : int
        Size of the result.

    Returns
    -------
    ndarray of uint8, shape (H, W, 3)
        RGB.
    """
    w, h = page.page_format.trim_mm
    margin = max(8.0, page.page_format.bleed_mm + 4.0)
    loose = [f for f in report.findings if f.place is None]
    canvas = _Canvas((-margin, -margin, w + margin, h + margin + 8.0 * len(loose)), long_side_px)
    x0, y0, x1, y1 = page.shown
    canvas.fill(Outline.box(0, 0, w, h), (255, 255, 255))
    if picture is not None:
        canvas.paste(picture, [(x0, y0), (x1, y0), (x1, y1), (x0, y1)], pale=0.5)
    thin = max(1, round(0.3 * canvas.scale))
    for box in (page.page_format.bleed_box_mm, (0.0, 0.0, w, h), page.page_format.live_box_mm):
        ring = Outline.box(*box)
        canvas.dashed(ring, _GUIDE, thin, 3.0 * canvas.scale)
    for outline in page.outlines:
        canvas.line(outline.points, _PANEL, max(1, round(0.5 * canvas.scale)), closed=True)
    placed = [f for f in report.findings if f.place is not None]
    for f in placed:
        for mark in f.marks:
            canvas.line(mark, _COLOURS[f.weight], max(2, round(1.1 * canvas.scale)))
    for f, place in badge_places(placed):
        _badge(canvas, f, place)
    for n, f in enumerate(loose):
        place = (3.0, h + margin + 8.0 * n + 2.0)
        _badge(canvas, f, place)
        right = canvas.at([(place[0] + 5.5, place[1])])[0]
        canvas.text((right[0], right[1]), f.text, 3.0 * canvas.scale, (34, 34, 34))
    return canvas.pixels


def page_picture(image: PageImage, frame: Outline, long_side_px: int = 1600) -> np.ndarray:
    """A page's own pixels cut out along its frame, upright.

    Parameters
    ----------
    image : PageImage
        As read.
    frame : Outline
        The page in source pixels, four corners.
    long_side_px : int
        Size of the result.
    """
    import cv2

    quad = image.to_decoded(frame).array()
    if len(quad) != 4:
        quad = image.to_decoded(Outline.box(*frame.bounds)).array()
    wide = float(np.hypot(*(quad[1] - quad[0])))
    tall = float(np.hypot(*(quad[3] - quad[0])))
    scale = min(1.0, long_side_px / max(wide, tall))
    size = max(1, round(wide * scale)), max(1, round(tall * scale))
    pixels, shrink = image.pixels, min(1.0, scale * 1.5)
    small = cv2.resize(pixels, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    factor = np.array([small.shape[1] / pixels.shape[1], small.shape[0] / pixels.shape[0]])
    goal = np.array([(0, 0), (size[0], 0), size, (0, size[1])], np.float32) - 0.5
    source = (quad * factor - 0.5).astype(np.float32)
    matrix = cv2.getPerspectiveTransform(source, goal.astype(np.float32))
    return np.asarray(cv2.warpPerspective(small, matrix, size, borderMode=cv2.BORDER_REPLICATE))


def _badge(canvas: _Canvas, f: Finding, place: Point) -> None:
    """A numbered disc."""
    radius = 3.4 * canvas.scale
    canvas.disc(place, radius + max(1.0, 0.4 * canvas.scale), (255, 255, 255))
    canvas.disc(place, radius, _COLOURS[f.weight])
    x, y = canvas.at([place])[0]
    text = str(f.number)
    height = 3.2 * canvas.scale
    canvas.text((x - 0.42 * height * len(text), y), text, height, (255, 255, 255))


def comparison_pixels(
    result: Comparison, picture: np.ndarray | None = None, long_side_px: int = 1600
) -> np.ndarray:
    """Both stages over each other: the earlier dashed, the later solid, moves as strokes.

    Parameters
    ----------
    result : Comparison
        What was compared.
    picture : ndarray of uint8, optional
        The later stage's own picture, cropped to its frame.
    long_side_px : int
        Size of the result.

    Returns
    -------
    ndarray of uint8, shape (H, W, 3)
        RGB.
    """
    shapes = [*result.laid, *result.after.outlines]
    if result.after.frame is not None:
        shapes.append(result.after.frame)
    if not shapes:
        shapes = [Outline.box(0, 0, 1, 1)]
    boxes = np.array([o.bounds for o in shapes])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    edge = 0.02 * float((high - low).max())
    foot = 0.07 * float((high - low).max())
    box = (low[0] - edge, low[1] - edge, high[0] + edge, high[1] + edge + foot)
    canvas = _Canvas((float(box[0]), float(box[1]), float(box[2]), float(box[3])), long_side_px)
    if picture is not None and result.after.frame is not None:
        canvas.paste(picture, result.after.frame.points, pale=0.6)
    pen = max(2, round(long_side_px / 500))
    for j, outline in enumerate(result.after.outlines):
        canvas.line(outline.points, _AFTER, pen, closed=True)
        x, y = canvas.at([outline.bounds[:2]])[0]
        canvas.text((x + 4 * pen, y + 9 * pen), str(j + 1), 8.0 * pen, _AFTER)
    for outline in result.laid:
        canvas.dashed(outline, _BEFORE, pen, 4.0 * pen)
    for change in result.changes:
        if change.kind in (ChangeKind.MOVED, ChangeKind.RESIZED, ChangeKind.RESHAPED):
            start = result.laid[change.before[0]].centroid
            end = result.after.outlines[change.after[0]].centroid
            canvas.line([start, end], _MOVE, pen)
            canvas.disc(end, 2.2 * pen, _MOVE)
    _legend(canvas, result, pen)
    return canvas.pixels


def _legend(canvas: _Canvas, result: Comparison, pen: int) -> None:
    """Which line is which stage, below the page."""
    rows = canvas.pixels.shape[0]
    for n, (colour, name) in enumerate(
        ((_BEFORE, f"- - {result.before.name}"), (_AFTER, f"--- {result.after.name}"))
    ):
        canvas.text((6.0 * pen, rows - (22 - 12 * n) * pen), name, 7.0 * pen, colour)


def png_of_pixels(pixels: np.ndarray) -> bytes:
    """RGB pixels as a PNG file's bytes."""
    import cv2

    done, data = cv2.imencode(".png", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR))
    if not done:
        raise ValueError("these pixels cannot be written as PNG")
    return bytes(data.tobytes())
