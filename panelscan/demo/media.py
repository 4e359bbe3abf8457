"""Finishing a scene in a medium: hatched ink, screentone, flat colour, paint, pencil, wax."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.demo.canvas import Canvas, hatch_lines
from panelscan.demo.raster import RGB, SHIFT, cloud_noise, fixed

TILE = 512
"""Side of the repeating textures, in pixels."""


@dataclass(frozen=True, eq=False)
class Medium:
    """Textures of one page's medium.

    Parameters
    ----------
    style : str
        One of `panelscan.demo.hands.STYLES`.
    unit : float
        Pixels per pixel of a page 2,000 px high.
    ink : tuple of int
        Colour of full ink.
    grain : ndarray of float32, shape (512, 512)
        Paper or brush grain, about 0 +- 1.
    light_hatch, cross_hatch : ndarray of uint8, shape (512, 512)
        Ink of two densities of hatching.
    screen : ndarray of float32, shape (512, 512)
        Threshold of the dot screen, 0..1; only for screentone.
    clouds : ndarray of float32, shape (M, N)
        Slow noise over the whole page; only for paint and wax.
    patches : ndarray of float32, shape (512, 512)
        Slow noise that says where an inker hatches.
    worked : float
        Level of ``patches`` above which middle tones are hatched; 1 hatches them all.
    """

    style: str
    unit: float
    ink: RGB
    grain: np.ndarray
    light_hatch: np.ndarray
    cross_hatch: np.ndarray
    screen: np.ndarray
    clouds: np.ndarray
    patches: np.ndarray
    worked: float = 1.0


def make_medium(style: str, size: tuple[int, int], unit: float, rng: np.random.Generator) -> Medium:
    """Textures for a page of the given height and width."""
    inks: dict[str, RGB] = {
        "painted": (54, 38, 32), "pencil": (70, 70, 74), "crayon": (72, 52, 60),
    }  # fmt: skip
    coarse = rng.normal(size=(TILE, TILE)).astype(np.float32)
    fine = cv2.GaussianBlur(coarse, (0, 0), max(0.8 * unit, 0.5), borderType=cv2.BORDER_REFLECT)
    grain = fine / float(fine.std())
    period = float(rng.uniform(3.0, 5.6))
    light = _hatch_tile(float(rng.uniform(30, 70)), 8.5 * unit, rng)
    other = _hatch_tile(float(rng.uniform(100, 150)), 8.0 * unit, rng)
    return Medium(
        style, unit, inks.get(style, (16, 16, 18)), grain, light, np.maximum(light, other),
        _dot_screen(unit * period) if style == "screentone" else light,
        cloud_noise(rng, size, (3, 7, 19)) if style in ("painted", "crayon") else light,
        cloud_noise(rng, (TILE, TILE), (3, 6)),
        float(rng.choice([1.0, 0.0, 0.4, 0.8], p=[0.2, 0.25, 0.3, 0.25])),
    )  # fmt: skip


def finish(c: Canvas, medium: Medium, shift: tuple[int, int] = (0, 0)) -> np.ndarray:
    """Picture of the canvas in the medium, uint8 RGB of the canvas's size.

    Parameters
    ----------
    c : Canvas
        The drawn scene.
    medium : Medium
        The page's medium.
    shift : tuple of int
        Row and column of the canvas on the page, so that textures run on.
    """
    if medium.style in ("ink", "onebit"):
        return _inked(c, medium, shift)
    if medium.style == "screentone":
        return _screened(c, medium, shift)
    if medium.style == "painted":
        return _painted(c, medium, shift)
    if medium.style == "pencil":
        return _penciled(c, medium, shift)
    if medium.style == "crayon":
        return _waxed(c, medium, shift)
    return over_ink(c.paint, c.ink, medium.ink)


def over_ink(paint: np.ndarray, ink: np.ndarray, rgb: RGB) -> np.ndarray:
    """Ink of a colour laid over paint."""
    out = paint.copy()
    rows, columns = np.nonzero(ink)
    a = ink[rows, columns][:, None].astype(np.uint16)
    color = np.asarray(rgb, np.uint16)
    out[rows, columns] = ((paint[rows, columns] * (255 - a) + color * a + 127) // 255).astype(
        np.uint8
    )
    return out


def tiled(tile: np.ndarray, size: tuple[int, int], shift: tuple[int, int]) -> np.ndarray:
    """A texture repeated over a canvas that lies at ``shift`` (row, column) of the page."""
    rows = (np.arange(size[0]) + shift[0]) % tile.shape[0]
    columns = (np.arange(size[1]) + shift[1]) % tile.shape[1]
    return np.asarray(tile[rows][:, columns])


def _luminance(c: Canvas) -> np.ndarray:
    return cv2.cvtColor(c.paint, cv2.COLOR_RGB2GRAY)


def _inked(c: Canvas, m: Medium, shift: tuple[int, int]) -> np.ndarray:
    gray = _luminance(c)
    size = gray.shape
    ink = c.ink.copy()
    middle = (gray < 160) & (gray >= 100)
    if m.worked < 1:
        # Few inkers fill a whole sky: the hatching comes in patches and leaves white.
        middle &= tiled(m.patches, size, shift) > m.worked
    dark = (gray < 100) & (gray >= 58)
    ink = np.maximum(ink, np.where(middle, tiled(m.light_hatch, size, shift), 0).astype(np.uint8))
    ink = np.maximum(ink, np.where(dark, tiled(m.cross_hatch, size, shift), 0).astype(np.uint8))
    solid = gray < 58
    # Lines drawn on solid black show white, as an artist would leave them out.
    ink = np.where(solid, 255 - (c.ink.astype(np.int16) * 9 // 10), ink).astype(np.uint8)
    white = np.full_like(c.paint, 255)
    return over_ink(white, ink, m.ink)


def _screened(c: Canvas, m: Medium, shift: tuple[int, int]) -> np.ndarray:
    gray = _luminance(c).astype(np.float32) / 255
    dark = np.clip((0.93 - gray) * 0.95, 0, 1)
    # A letratone comes in steps: quantise, so that areas have one even tone.
    steps = np.round(dark * 7) / 7
    screen = tiled(m.screen, gray.shape, shift)
    dots = np.clip((steps - screen) * 6 * m.unit + 0.5, 0, 1)
    dots[steps < 0.08] = 0
    solid = gray < 0.2
    dots[solid] = 1
    ink = c.ink.astype(np.float32) / 255
    full = np.where(solid, 1 - 0.9 * ink, np.maximum(dots, ink))
    return over_ink(np.full_like(c.paint, 255), (full * 255).astype(np.uint8), m.ink)


def _painted(c: Canvas, m: Medium, shift: tuple[int, int]) -> np.ndarray:
    soft = cv2.GaussianBlur(c.paint, (0, 0), max(2.2 * m.unit, 0.8)).astype(np.float32)
    rows, columns = _page_part(m.clouds, c, shift)
    clouds = m.clouds[rows][:, columns]
    grain = tiled(m.grain, clouds.shape, shift)
    light = 1 + 0.11 * clouds + 0.03 * grain
    warm = np.array([1.0, 0.98, 0.95], np.float32) ** (clouds[..., None] * 1.4)
    art = np.clip(soft * light[..., None] * warm, 0, 255).astype(np.uint8)
    ink = cv2.GaussianBlur(c.ink, (0, 0), max(0.7 * m.unit, 0.4))
    return over_ink(art, (ink * 0.78).astype(np.uint8), m.ink)


def _penciled(c: Canvas, m: Medium, shift: tuple[int, int]) -> np.ndarray:
    gray = _luminance(c).astype(np.float32) / 255
    grain = tiled(m.grain, gray.shape, shift)
    hatch = tiled(m.light_hatch, gray.shape, shift).astype(np.float32) / 255
    tone = np.clip((0.9 - gray) * 0.8, 0, 0.75) * (0.45 + 0.55 * hatch)
    tone = tone * np.clip(0.85 + 0.25 * grain, 0, 1.3)
    line = c.ink.astype(np.float32) / 255 * np.clip(0.78 + 0.3 * grain, 0, 1)
    full = np.clip(np.maximum(tone, line), 0, 1)
    return over_ink(np.full_like(c.paint, 253), (full * 255).astype(np.uint8), m.ink)


def _waxed(c: Canvas, m: Medium, shift: tuple[int, int]) -> np.ndarray:
    grain = tiled(m.grain, c.ink.shape, shift)
    hatch = tiled(m.light_hatch, c.ink.shape, shift).astype(np.float32) / 255
    rows, columns = _page_part(m.clouds, c, shift)
    wax = np.clip(0.66 + 0.13 * grain + 0.18 * hatch + 0.08 * m.clouds[rows][:, columns], 0.2, 1)
    paint = 255 - (255 - c.paint.astype(np.float32)) * wax[..., None]
    line = c.ink.astype(np.float32) * np.clip(0.8 + 0.28 * grain, 0, 1)
    return over_ink(paint.astype(np.uint8), line.astype(np.uint8), m.ink)


def _page_part(
    clouds: np.ndarray, c: Canvas, shift: tuple[int, int]
) -> tuple[np.ndarray, np.ndarray]:
    rows = np.clip(np.arange(c.height) + shift[0], 0, clouds.shape[0] - 1)
    columns = np.clip(np.arange(c.width) + shift[1], 0, clouds.shape[1] - 1)
    return rows, columns


def _hatch_tile(angle_deg: float, gap: float, rng: np.random.Generator) -> np.ndarray:
    """Hatching as a hand does it: rows of short strokes, each row set off from the last."""
    gap = max(gap, 4.0)
    tile = np.zeros((TILE, TILE), np.uint8)
    strokes = []
    for line in hatch_lines(TILE, TILE, angle_deg, gap, rng):
        ends = np.array([line[0], line[-1]])
        length = float(np.hypot(*(ends[1] - ends[0])))
        at = rng.uniform(0, gap * 8)
        while at < length:
            run = gap * rng.uniform(5, 15)
            t = np.array([at, at + run])[:, None] / length
            strokes.append(fixed(ends[0] * (1 - t) + ends[1] * t))
            at += run + gap * rng.uniform(0.3, 1.4)
    thick = max(round(gap / 6), 1)
    cv2.polylines(tile, strokes, False, 255, thick, cv2.LINE_AA, SHIFT)
    return tile


def _dot_screen(period: float) -> np.ndarray:
    # Dots stand on a lattice turned by 45 degrees; the period is fitted to the tile.
    count = max(round(TILE / (period * np.sqrt(2))), 8)
    t = np.arange(TILE) / TILE * count * 2 * np.pi
    across, down = t[:, None] + t[None, :], t[:, None] - t[None, :]
    wave = np.cos(across) + np.cos(down)
    # Equalise so that the share of pixels below a threshold is the threshold itself.
    order = np.argsort(wave, axis=None)
    ranks = np.empty(wave.size, np.float32)
    ranks[order] = np.linspace(0, 1, wave.size, dtype=np.float32)
    return 1 - ranks.reshape(wave.shape)
