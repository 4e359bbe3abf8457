"""Drawing a planned page: art in each panel, borders, figures that burst out, lettering."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import shapely

from panelscan.demo.borders import draw_border, shaky_path, soften, straight_path, true_ring
from panelscan.demo.canvas import Canvas
from panelscan.demo.grids import PagePlan, PanelPlan
from panelscan.demo.hands import Palette
from panelscan.demo.look import Look
from panelscan.demo.media import Medium, finish
from panelscan.demo.raster import Patch, cloud_noise, cover, lay_color, mix
from panelscan.demo.staging import stage
from panelscan.demo.truth import PageTruth, PanelTruth, lenient_outline
from panelscan.model.outline import Outline


@dataclass(eq=False)
class DrawnPanel:
    """What lettering and truth need to know of a panel that has been drawn."""

    plan: PanelPlan
    ring: np.ndarray
    heads: list[tuple[float, float, float]]
    burst: tuple[Outline, ...] = ()
    scene: str = ""


def draw_plan(
    plan: PagePlan, look: Look, medium: Medium, rng: np.random.Generator
) -> tuple[np.ndarray, list[DrawnPanel]]:
    """Ground, art and borders of a planned page, without lettering.

    Returns
    -------
    ndarray of uint8, shape (M, N, 3)
        RGB page.
    list of DrawnPanel
        In the plan's order.
    """
    size = (round(plan.height), round(plan.width))
    page = _ground(size, look, rng)
    palette = look.palettes[int(rng.integers(len(look.palettes)))]
    drawn: dict[int, DrawnPanel] = {}
    for k in sorted(range(len(plan.panels)), key=lambda i: plan.panels[i].depth):
        drawn[k] = _draw_panel(page, plan.panels[k], look, medium, palette, rng)
    return page, [drawn[k] for k in range(len(plan.panels))]


def _ground(size: tuple[int, int], look: Look, rng: np.random.Generator) -> np.ndarray:
    page = np.empty((*size, 3), np.uint8)
    page[:] = look.ground
    if look.ground_to is not None:
        t = np.linspace(0, 1, size[0], dtype=np.float32)[:, None, None]
        a, b = np.asarray(look.ground, np.float32), np.asarray(look.ground_to, np.float32)
        graded = a * (1 - t) + b * t
        if rng.random() < 0.5:
            clouds = cloud_noise(rng, size, (3, 8))[..., None]
            graded = graded + clouds * 5
        page[:] = np.clip(np.broadcast_to(graded, page.shape), 0, 255).astype(np.uint8)
    return page


def _draw_panel(
    page: np.ndarray, plan: PanelPlan, look: Look, medium: Medium, palette: Palette,
    rng: np.random.Generator,
) -> DrawnPanel:  # fmt: skip
    unit = medium.unit
    wobble = look.hand.border_wobble * unit
    path = shaky_path(plan, wobble, rng) if plan.border == "hand" else straight_path(plan)
    x0, y0, x1, y1 = plan.box
    bursts = _breaks_out(plan, look, rng)
    out = min(x1 - x0, y1 - y0) * rng.uniform(0.08, 0.16) if bursts else 3.0
    out = max(out, 26 * unit) if plan.border == "soft" else out
    left, top = int(np.floor(x0 - out)), int(np.floor(y0 - out))
    right, bottom = int(np.ceil(x1 + out)), int(np.ceil(y1 + out))
    c = Canvas(right - left, bottom - top, unit, look.hand, rng)
    heads, scene = stage(c, plan, look, palette, bursts)
    if plan.border in ("none", "soft") and not plan.bleed:
        _hold_tone(c, look, rng)
    art = finish(c, medium, (top, left))
    if plan.depth and look.halo_px:
        halo = shapely.Polygon(path.ring).buffer(look.halo_px * unit, join_style="mitre")
        lay_color(page, cover(halo, page.shape[:2]), look.ground)
    patch = cover(path.ring, page.shape[:2])
    if plan.border == "soft":
        ragged = rng.random() < 0.6
        patch = _grown(path.ring, page.shape[:2], unit * 9)
        patch = soften(patch, unit * rng.uniform(8, 22), ragged, rng)
    _lay_art(page, art, (top, left), patch)
    width = look.border_px * unit
    seen = look.border_rgb != look.ground or look.ground_to is not None
    if seen and plan.border in ("ruled", "hand") and plan.kind != "jagged":
        draw_border(page, plan, path, width, look.border_rgb, look.hand, rng, unit)
    burst: tuple[Outline, ...] = ()
    if bursts and c.figure is not None:
        figure = _on_page(c.figure, (top, left), page.shape[:2])
        _lay_art(page, art, (top, left), figure)
        burst = _burst_outlines(figure, path.ring, unit)
    placed = [(hx + left, hy + top, r) for hx, hy, r in heads]
    ring = true_ring(path) if plan.border == "hand" else path.ring
    return DrawnPanel(plan, ring, placed, burst, scene)


def _hold_tone(c: Canvas, look: Look, rng: np.random.Generator) -> None:
    """Keep a borderless panel's art off the white of the paper, as its edge must show.

    Now and then it may fade into the paper at one side, as painters let it.
    """
    if min(look.ground) < 200:
        return
    np.minimum(c.paint, 240 if look.style == "painted" else 226, out=c.paint)
    if look.style == "painted" and rng.random() < 0.1:
        reach = round(c.height * rng.uniform(0.1, 0.25))
        fade = np.linspace(1, 0, max(reach, 2), dtype=np.float32)[:, None, None] ** 1.5
        part = c.paint[: len(fade)] if rng.random() < 0.6 else c.paint[::-1][: len(fade)]
        part[...] = (part + (255 - part.astype(np.float32)) * fade).astype(np.uint8)


def _breaks_out(plan: PanelPlan, look: Look, rng: np.random.Generator) -> bool:
    if plan.shot is not None:
        return plan.shot.burst
    return rng.random() < look.burst and not plan.bleed and plan.kind != "jagged"


def _grown(ring: np.ndarray, size: tuple[int, int], by: float) -> Patch:
    """Coverage of a ring with an empty rim of ``by`` pixels in its box, for softening."""
    patch = cover(ring, size)
    rows = slice(max(patch.rows.start - round(by), 0), min(patch.rows.stop + round(by), size[0]))
    columns = slice(
        max(patch.columns.start - round(by), 0), min(patch.columns.stop + round(by), size[1])
    )
    alpha = np.zeros((rows.stop - rows.start, columns.stop - columns.start), np.uint8)
    r, c = patch.rows.start - rows.start, patch.columns.start - columns.start
    alpha[r : r + patch.alpha.shape[0], c : c + patch.alpha.shape[1]] = patch.alpha
    return Patch(rows, columns, alpha)


def _lay_art(page: np.ndarray, art: np.ndarray, origin: tuple[int, int], patch: Patch) -> None:
    top, left = origin
    r0, r1 = max(patch.rows.start, top, 0), min(patch.rows.stop, top + art.shape[0], page.shape[0])
    c0 = max(patch.columns.start, left, 0)
    c1 = min(patch.columns.stop, left + art.shape[1], page.shape[1])
    if r1 <= r0 or c1 <= c0:
        return
    alpha = patch.alpha[r0 - patch.rows.start : r1 - patch.rows.start,
                        c0 - patch.columns.start : c1 - patch.columns.start]  # fmt: skip
    part = page[r0:r1, c0:c1]
    above = art[r0 - top : r1 - top, c0 - left : c1 - left]
    np.copyto(part, above, where=(alpha == 255)[..., None])
    rows, columns = np.nonzero((alpha > 0) & (alpha < 255))
    if len(rows):
        below, over = part[rows, columns][:, None], above[rows, columns][:, None]
        part[rows, columns] = mix(below, over, alpha[rows, columns][:, None])[:, 0]


def _on_page(mask: np.ndarray, origin: tuple[int, int], size: tuple[int, int]) -> Patch:
    top, left = origin
    r0, c0 = max(-top, 0), max(-left, 0)
    rows = slice(top + r0, min(top + mask.shape[0], size[0]))
    columns = slice(left + c0, min(left + mask.shape[1], size[1]))
    part = mask[r0 : r0 + rows.stop - rows.start, c0 : c0 + columns.stop - columns.start]
    return Patch(rows, columns, part)


def _burst_outlines(figure: Patch, ring: np.ndarray, unit: float) -> tuple[Outline, ...]:
    inside = np.zeros_like(figure.alpha)
    at = np.round(ring - (figure.columns.start, figure.rows.start)).astype(np.int32)
    cv2.fillPoly(inside, [at], 255)
    outside = ((figure.alpha > 127) & (inside == 0)).astype(np.uint8)
    found, _ = cv2.findContours(outside, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    outlines = []
    for contour in found:
        if cv2.contourArea(contour) > 60 * unit * unit:
            points = contour[:, 0] + 0.5 + (figure.columns.start, figure.rows.start)
            outlines.append(lenient_outline(points))
    return tuple(outlines)


def truth_of(
    plan: PagePlan, drawn: list[DrawnPanel], look: Look, size: tuple[int, int]
) -> PageTruth:
    """The truth of a drawn page before any wear."""
    height, width = size
    trim = shapely.box(0, 0, width, height)
    panels = []
    for d in drawn:
        p = d.plan
        whole = shapely.Polygon(d.ring).buffer(0).intersection(trim)
        shape = max(getattr(whole, "geoms", [whole]), key=lambda g: g.area)
        planned = p.shape.intersection(trim)
        shaky = p.border == "hand"
        panels.append(
            PanelTruth(
                outline=lenient_outline(np.asarray(shape.exterior.coords)),
                border=p.border if p.kind != "jagged" else "none",
                bleed=p.bleed,
                inset_in=p.host,
                corners=lenient_outline(np.asarray(planned.exterior.coords)) if shaky else None,
                open_sides=p.open_sides,
                depth=p.depth,
                burst=d.burst,
            )
        )
    return PageTruth(
        width_px=width,
        height_px=height,
        pages=(Outline.box(0, 0, width, height),),
        panels=tuple(panels),
        orders_also_fine=plan.also_fine,
        ambiguous=plan.ambiguous,
        notes=plan.notes,
        ground_rgb=look.ground,
        gutter_px=plan.gutter,
        style=look.style,
        hand=look.hand.name,
    )
