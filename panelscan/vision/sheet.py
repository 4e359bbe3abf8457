"""Reading a photographed or scanned thumbnail sheet back: which sheet it is, and its cells.

The four corner marks say where the paper lies and which way up; the code tells the sheet's
plan; each cell is then cut out upright. Light may fall unevenly: marks are found by local
thresholds, and each module of the code is compared with the black bar and the white row
beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.model.panel import Doubt
from panelscan.model.thumbnail_sheet import (
    CODE_COLUMNS,
    CODE_ROWS,
    MARGIN_MM,
    MARK_MM,
    MODULE_MM,
    PAPERS,
    SheetPlan,
    plan_of_bits,
)
from panelscan.model.units import LEAST_PPI, MM_PER_INCH, Resolution, ResolutionSource

MOST_PPI = 600.0
WINDOWS, QUICK_WINDOWS = (3, 43, 10), (9, 29, 20)
_LONG_SIDE_PX = 2400


@dataclass(frozen=True, eq=False)
class SheetCell:
    """One thumbnail, cut out upright.

    Parameters
    ----------
    number : int
        Place on the sheet, from 0.
    image : PageImage
        Its page, edge to edge; resolution as on the paper.
    frame : Outline
        Where it lies in the photographed picture, in its pixels.
    """

    number: int
    image: PageImage
    frame: Outline


@dataclass(frozen=True, eq=False)
class SheetReading:
    """A thumbnail sheet that was recognized.

    Parameters
    ----------
    plan : SheetPlan
        What the code says.
    cells : tuple of SheetCell
        In order.
    turn_deg : float
        By how much the paper is turned in the picture, clockwise to the eye.
    misfit_mm : float
        How far the corner marks lie off a flat sheet seen in perspective (RMS): curled
        paper or a bent lens.
    doubts : tuple of Doubt
        What a person should look at.
    """

    plan: SheetPlan
    cells: tuple[SheetCell, ...]
    turn_deg: float
    misfit_mm: float
    doubts: tuple[Doubt, ...] = ()


def read_sheet(pixels: np.ndarray) -> SheetReading | None:
    """Read a thumbnail sheet.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (M, N) or (M, N, 3)
        The photograph or scan, gray or RGB, any way up.

    Returns
    -------
    SheetReading or None
        None where the picture shows no thumbnail sheet, or its code cannot be read.
    """
    gray = pixels if pixels.ndim == 2 else _gray(pixels)
    marks = _corner_marks(gray)
    if len(marks) < 3:
        return None
    for paper in PAPERS:
        found = _placed(marks, paper)
        if found is None:
            continue
        to_px, misfit = found
        plan = _read_code(gray, to_px, paper)
        if plan is not None:
            return _reading(pixels, plan, to_px, misfit, len(marks))
    return None


def looks_like_sheet(pixels: np.ndarray) -> bool:
    """Whether at least three corner marks of a thumbnail sheet show; fast, on a small copy.

    Looks with fewer thresholds than `read_sheet`, since every picture of a scan is asked.
    """
    import cv2

    gray = pixels if pixels.ndim == 2 else _gray(pixels)
    scale = 1000 / max(gray.shape)
    if scale < 1:
        gray = cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return len(_detected(gray, QUICK_WINDOWS)) >= 3


def _gray(pixels: np.ndarray) -> np.ndarray:
    import cv2

    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY))


def _corner_marks(gray: np.ndarray) -> dict[int, np.ndarray]:
    """Corners of each mark found, shape (4, 2), in the frame where edges are whole numbers.

    Marks are looked for on a copy of moderate size, then their corners are measured on the
    full picture.
    """
    import cv2

    scale = min(1.0, _LONG_SIDE_PX / max(gray.shape))
    small = gray
    if scale < 1:
        small = cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    found = _detected(small)
    full = {}
    for number, corners in found.items():
        # cv2 puts pixel centres on whole numbers; ours lie at one half.
        points = (corners + 0.5) / scale - 0.5
        side = float(np.linalg.norm(points[0] - points[2])) / np.sqrt(2)
        window = max(2, round(side / 24))
        stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.01)
        refined = cv2.cornerSubPix(
            gray, points.astype(np.float32).reshape(-1, 1, 2), (window, window), (-1, -1), stop
        )
        full[number] = refined.reshape(4, 2).astype(np.float64) + 0.5
    return full


def _detected(gray: np.ndarray, windows: tuple[int, int, int] = WINDOWS) -> dict[int, np.ndarray]:
    """Marks 0 to 3 with their four corners (cv2's pixel frame), the largest of each number.

    ``windows`` are the least, largest and step of the local thresholds' windows, in pixels.
    """
    import cv2

    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.adaptiveThreshWinSizeMin, settings.adaptiveThreshWinSizeMax = windows[:2]
    settings.adaptiveThreshWinSizeStep = windows[2]
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary, settings).detectMarkers(gray)
    found: dict[int, np.ndarray] = {}
    if numbers is None:
        return found
    for quad, value in zip(corners, np.ravel(numbers).tolist(), strict=True):
        number = int(value)
        points = np.asarray(quad, dtype=np.float64).reshape(4, 2)
        if number > 3:
            continue
        if number in found and _area(found[number]) >= _area(points):
            continue
        found[number] = points
    return found


def _area(points: np.ndarray) -> float:
    x, y = points[:, 0], points[:, 1]
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)


def _placed(marks: dict[int, np.ndarray], paper: str) -> tuple[np.ndarray, float] | None:
    """Projective map from millimetres on that paper to pixels, and the marks' misfit in mm."""
    import cv2

    size = PAPERS[paper]
    goal, seen = [], []
    for number, corners in marks.items():
        goal.append(_mark_corners(size, number))
        seen.append(corners)
    mm, px = np.concatenate(goal), np.concatenate(seen)
    to_px, _ = cv2.findHomography(mm, px, 0)
    if to_px is None:
        return None
    per_mm = np.sqrt(_area(px[:4])) / MARK_MM
    misfit = np.sqrt(np.mean(np.sum((_mapped(to_px, mm) - px) ** 2, axis=1))) / per_mm
    return to_px, float(misfit)


def _mark_corners(size: tuple[float, float], number: int) -> np.ndarray:
    """Corners of a mark in mm, clockwise from its own top left (marks are printed upright)."""
    x = MARGIN_MM if number in (0, 3) else size[0] - MARGIN_MM - MARK_MM
    y = MARGIN_MM if number in (0, 1) else size[1] - MARGIN_MM - MARK_MM
    corners = [(x, y), (x + MARK_MM, y), (x + MARK_MM, y + MARK_MM), (x, y + MARK_MM)]
    return np.array(corners, dtype=np.float64)


def _mapped(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Points through a projective map, shape (N, 2)."""
    full = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(full[:, :2] / full[:, 2:])


def _read_code(gray: np.ndarray, to_px: np.ndarray, paper: str) -> SheetPlan | None:
    """Read either copy of the code; None if neither has the right check sum."""
    probe = SheetPlan(paper, 2, 2, 4, 0.65, 0)
    for box in probe.code_boxes():
        plan = plan_of_bits(_bits(gray, to_px, box))
        if plan is not None and plan.paper == paper:
            return plan
    return None


def _bits(
    gray: np.ndarray, to_px: np.ndarray, box: tuple[float, float, float, float]
) -> tuple[bool, ...]:
    """Modules of one code: dark where nearer to the bar above than to the white row."""
    columns = box[0] + (np.arange(CODE_COLUMNS) + 0.5) * MODULE_MM
    bar = _sampled(gray, to_px, columns, box[1] - 1.5 * MODULE_MM)
    white = _sampled(gray, to_px, columns, box[1] - 0.5 * MODULE_MM)
    middle: np.ndarray = (bar + white) / 2
    found: list[bool] = []
    for row in range(CODE_ROWS):
        level = _sampled(gray, to_px, columns, box[1] + (row + 0.5) * MODULE_MM)
        found += (level < middle).tolist()
    return tuple(found)


def _sampled(gray: np.ndarray, to_px: np.ndarray, x_mm: np.ndarray, y_mm: float) -> np.ndarray:
    """Mean gray of the middle of each module at that height."""
    import cv2

    offsets = np.linspace(-0.25, 0.25, 5) * MODULE_MM
    grid = [(x + a, y_mm + b) for x in x_mm for a in offsets for b in offsets]
    px = _mapped(to_px, np.array(grid)).astype(np.float32) - np.float32(0.5)
    seen = cv2.remap(
        gray,
        px[:, 0].reshape(-1, 1),
        px[:, 1].reshape(-1, 1),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    levels = np.asarray(seen, dtype=np.float64).reshape(len(x_mm), -1)
    return np.asarray(levels.mean(axis=1))


def _reading(
    pixels: np.ndarray, plan: SheetPlan, to_px: np.ndarray, misfit_mm: float, marks: int
) -> SheetReading:
    """Cut the cells out and say what is doubtful."""
    w, h = plan.size_mm
    corners = _mapped(to_px, np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]))
    along = corners[1] - corners[0]
    per_mm = np.sqrt(_area(corners) / (w * h))
    ppi = float(np.clip(per_mm * MM_PER_INCH, LEAST_PPI, MOST_PPI))
    cells = tuple(_cell(pixels, number, box, to_px, ppi) for number, box in enumerate(plan.cells()))
    doubts = []
    if marks < 4:
        text = "One corner mark is hidden: the cells may be cut out a little askew."
        doubts.append(Doubt("sheet-mark-hidden", text))
    if misfit_mm > 0.6:
        text = f"The paper is not flat: its corner marks are {misfit_mm:.1f} mm off."
        doubts.append(Doubt("sheet-not-flat", text))
    turn = float(np.degrees(np.arctan2(along[1], along[0])))
    return SheetReading(plan, cells, turn, misfit_mm, tuple(doubts))


def _cell(
    pixels: np.ndarray,
    number: int,
    box: tuple[float, float, float, float],
    to_px: np.ndarray,
    ppi: float,
) -> SheetCell:
    """One cell upright, at about the resolution it was photographed at."""
    import cv2

    x0, y0, x1, y1 = box
    per_mm = ppi / MM_PER_INCH
    width, height = max(8, round((x1 - x0) * per_mm)), max(8, round((y1 - y0) * per_mm))
    to_mm = np.array([[(x1 - x0) / width, 0, x0], [0, (y1 - y0) / height, y0], [0, 0, 1.0]])
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1.0]])
    matrix = np.linalg.inv(half) @ to_px @ to_mm @ half
    cut = cv2.warpPerspective(
        pixels,
        matrix,
        (width, height),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    ring = _mapped(to_px, np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))
    image = PageImage(
        np.ascontiguousarray(cut),
        width,
        height,
        resolution=Resolution(ppi, ppi, ResolutionSource.PAGE_FORMAT),
        notes=(f"Cell {number + 1} of a thumbnail sheet.",),
    )
    return SheetCell(number, image, Outline.of(ring.tolist()))
