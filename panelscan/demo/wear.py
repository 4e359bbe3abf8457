"""What a scanner, a camera and the years do to a page, with the truth carried along."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from panelscan.demo.bed import lay_on_bed
from panelscan.demo.raster import RGB
from panelscan.demo.truth import PageTruth


@dataclass(frozen=True)
class Wear:
    """Faults of a page's picture; the default changes nothing.

    Parameters
    ----------
    skew_deg : float
        Turn on the bed, counterclockwise to the eye positive.
    perspective : float
        Spread of the corners as a share of the page's width (a phone's picture).
    bed_rgb : tuple of int or None
        Colour of what lies around the page; None: the page fills the picture.
    bed_share : float
        Width of the bed seen around the page, as a share of its width.
    paper_rgb : tuple of int or None
        Colour of the paper, multiplied in.
    show_through : float
        Strength of the other side's print, 0..1.
    shade : float
        Fall of light over the page, 0..1.
    blur_px, noise : float
        Spread of the blur; spread of the noise in gray levels.
    jpeg : int or None
        JPEG quality it passes through.
    holes : bool
        Two or three punched holes at a side.
    fold : float
        Depth of the shadow at the fold of facing pages, 0..1.
    one_bit : bool
        Reduced to black and white without gray.
    height_px : int or None
        Height that the picture is reduced to.
    gray : bool
        Scanned without colour.
    """

    skew_deg: float = 0.0
    perspective: float = 0.0
    bed_rgb: RGB | None = None
    bed_share: float = 0.04
    paper_rgb: RGB | None = None
    show_through: float = 0.0
    shade: float = 0.0
    blur_px: float = 0.0
    noise: float = 0.0
    jpeg: int | None = None
    holes: bool = False
    fold: float = 0.0
    one_bit: bool = False
    height_px: int | None = None
    gray: bool = False


def wear_page(
    page: np.ndarray, truth: PageTruth, wear: Wear, rng: np.random.Generator
) -> tuple[np.ndarray, PageTruth]:
    """The page as it comes out of a scanner or phone, and its truth there.

    Parameters
    ----------
    page : ndarray of uint8, shape (M, N, 3)
        RGB page.
    truth : PageTruth
        Truth of ``page``.
    wear : Wear
        What happens to it.
    rng : numpy Generator
        Source of all chance.

    Returns
    -------
    ndarray of uint8, shape (K, L, 3), or (K, L) where the scan is gray or black and white
    PageTruth
        With all outlines, the fold and the turn in the new picture.
    """
    page = _age(page, truth, wear, rng)
    if wear.skew_deg or wear.perspective or wear.bed_rgb is not None:
        page, truth = _on_bed(page, truth, wear, rng)
    if wear.height_px is not None and wear.height_px < page.shape[0]:
        page, truth = _reduce(page, truth, wear.height_px)
    if wear.shade:
        page = _unlit(page, wear.shade, rng)
    if wear.blur_px:
        page = cv2.GaussianBlur(page, (0, 0), wear.blur_px)
    if wear.gray or wear.one_bit:
        page = cv2.cvtColor(page, cv2.COLOR_RGB2GRAY)
    if wear.noise:
        page = _noisy(page, wear.noise, rng)
    if wear.one_bit:
        level = 128 if wear.shade == 0 else float(np.percentile(page[::9, ::9], 60)) * 0.72
        page = np.where(page > level, 255, 0).astype(np.uint8)
    elif wear.jpeg:
        page = through_jpeg(page, wear.jpeg)
    return page, truth


def through_jpeg(page: np.ndarray, quality: int) -> np.ndarray:
    """The page after JPEG compression."""
    shown = page[..., ::-1] if page.ndim == 3 else page
    _, data = cv2.imencode(".jpg", shown, [cv2.IMWRITE_JPEG_QUALITY, quality])
    back = np.asarray(cv2.imdecode(data, cv2.IMREAD_UNCHANGED))
    return np.ascontiguousarray(back[..., ::-1]) if page.ndim == 3 else back


def _age(page: np.ndarray, truth: PageTruth, wear: Wear, rng: np.random.Generator) -> np.ndarray:
    if wear.paper_rgb is not None:
        table = (
            np.arange(256, dtype=np.float32)[:, None] / 255 * np.asarray(wear.paper_rgb, np.float32)
        )
        lut = np.round(table).astype(np.uint8)[None]
        page = cv2.LUT(page, lut)
    if wear.show_through:
        back = cv2.GaussianBlur(cv2.flip(page, 1), (0, 0), 2.5)
        back = np.roll(back, (int(rng.integers(-60, 60)), int(rng.integers(-40, 40))), (0, 1))
        lift = cv2.cvtColor(back, cv2.COLOR_RGB2GRAY).astype(np.float32)
        factor = 1 - wear.show_through * (1 - lift / 255)
        page = (page * factor[..., None]).astype(np.uint8)
    if wear.holes:
        page = _punched(page, wear, rng)
    if wear.fold and truth.fold_x_px is not None:
        page = _folded(page, truth.fold_x_px, wear.fold)
    return page


def _punched(page: np.ndarray, wear: Wear, rng: np.random.Generator) -> np.ndarray:
    page = page.copy()
    height, width = page.shape[:2]
    x = width * (0.025 if rng.random() < 0.7 else 0.975)
    color = wear.bed_rgb or (28, 28, 30)
    places = [0.5 - 0.14, 0.5 + 0.14] if rng.random() < 0.5 else [0.15, 0.5, 0.85]
    for y in places:
        cv2.circle(
            page, (round(x), round(y * height)), round(width * 0.014), color, -1, cv2.LINE_AA
        )
    return page


def _folded(page: np.ndarray, x: float, depth: float) -> np.ndarray:
    d = (np.arange(page.shape[1]) + 0.5 - x) / page.shape[1]
    shadow = depth * np.exp(-np.abs(d) / 0.018) + depth * 0.35 * np.exp(-np.abs(d) / 0.06)
    line = depth * 0.5 * np.exp(-((d * page.shape[1] / 1.5) ** 2))
    factor = np.clip(1 - shadow * 0.75 - line, 0, 1).astype(np.float32)
    return np.asarray((page * factor[None, :, None]).astype(np.uint8))


def _on_bed(
    page: np.ndarray, truth: PageTruth, wear: Wear, rng: np.random.Generator
) -> tuple[np.ndarray, PageTruth]:
    height, width = page.shape[:2]
    a = np.radians(wear.skew_deg)
    # Counterclockwise to the eye while y points down.
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    corners = np.array([(0, 0), (width, 0), (width, height), (0, height)], dtype=np.float64)
    middle = np.array([width / 2, height / 2])
    seen = (corners - middle) @ turn.T + middle
    if wear.perspective:
        seen = seen + rng.uniform(-1, 1, (4, 2)) * wear.perspective * width
    if wear.bed_rgb is None:
        # The page fills the picture: what turned outside is cut off, gaps show more paper.
        size = (width, height)
        border: RGB = tuple(int(v) for v in np.median(page[:6].reshape(-1, 3), axis=0))  # type: ignore[assignment]
    else:
        rim = wear.bed_share * width
        low = seen.min(axis=0) - rim * rng.uniform(0.3, 1, 2)
        high = seen.max(axis=0) + rim * rng.uniform(0.3, 1, 2)
        seen = seen - low
        size = (round(high[0] - low[0]), round(high[1] - low[1]))
        border = wear.bed_rgb
    h = cv2.getPerspectiveTransform(corners.astype(np.float32), seen.astype(np.float32))
    to, back = np.eye(3), np.eye(3)
    to[:2, 2], back[:2, 2] = -0.5, 0.5  # OpenCV counts from pixel centres
    moved = cv2.warpPerspective(
        page, to @ h @ back, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT,
        borderValue=border,
    )  # fmt: skip
    if wear.bed_rgb is not None:
        moved = lay_on_bed(moved, seen, wear.bed_rgb, wear.perspective > 0.004, rng)

    def point_map(p: np.ndarray) -> np.ndarray:
        q = np.c_[p, np.ones(len(p))] @ h.T
        return np.asarray(q[:, :2] / q[:, 2:])

    mapped = truth.mapped(point_map, size[0], size[1])
    skew = None if wear.perspective > 0.004 else wear.skew_deg
    return moved, replace(mapped, skew_deg=skew)


def _reduce(page: np.ndarray, truth: PageTruth, height_px: int) -> tuple[np.ndarray, PageTruth]:
    width_px = max(round(page.shape[1] * height_px / page.shape[0]), 1)
    sx, sy = width_px / page.shape[1], height_px / page.shape[0]
    small = cv2.resize(page, (width_px, height_px), interpolation=cv2.INTER_AREA)
    mapped = truth.mapped(lambda p: p * (sx, sy), width_px, height_px)
    dpi = truth.dpi * sy if truth.dpi else None
    gutter = truth.gutter_px * sx if truth.gutter_px is not None else None
    return small, replace(mapped, dpi=dpi, gutter_px=gutter)


def _unlit(page: np.ndarray, shade: float, rng: np.random.Generator) -> np.ndarray:
    height, width = page.shape[:2]
    y, x = np.linspace(-1, 1, 24)[:, None], np.linspace(-1, 1, 24)[None, :]
    a = rng.uniform(0, 2 * np.pi)
    fall = 0.5 + 0.5 * (np.cos(a) * x + np.sin(a) * y) + 0.3 * (x * x + y * y) * rng.uniform(0, 1)
    factor = (1 - shade * np.clip(fall, 0, 1.3) / 1.3).astype(np.float32)
    big = cv2.resize(factor, (width, height), interpolation=cv2.INTER_LINEAR)
    return np.asarray((page * big[..., None]).astype(np.uint8))


def _noisy(page: np.ndarray, spread: float, rng: np.random.Generator) -> np.ndarray:
    tile = (rng.normal(size=(733, 761)) * spread).astype(np.int16)
    rows = -(-page.shape[0] // 733)
    columns = -(-page.shape[1] // 761)
    noise = np.tile(tile, (rows, columns))[: page.shape[0], : page.shape[1]]
    if page.ndim == 3:
        noise = np.repeat(noise[..., None], 3, axis=2)
    return np.asarray(np.clip(page.astype(np.int16) + noise, 0, 255).astype(np.uint8))
