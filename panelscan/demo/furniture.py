"""What stands on a page beside its panels: page numbers, titles, footnotes, text below panels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from panelscan.demo.grids import PagePlan, PanelPlan
from panelscan.demo.lettering import draw_text, set_text
from panelscan.demo.look import Look
from panelscan.demo.raster import RGB
from panelscan.demo.story import CAPTIONS, LINES, TITLE

SMALL_CAP_PX = 11.0
"""Cap height of page numbers and footnotes on a page 2,000 px high."""


def add_furniture(
    page: np.ndarray, plan: PagePlan, look: Look, unit: float, rng: np.random.Generator,
    number: int = 0,
) -> None:  # fmt: skip
    """Put a page number, a running title or a footnote where the margins are free (in place).

    Parameters
    ----------
    page : ndarray of uint8, shape (M, N, 3)
        The page.
    plan : PagePlan
        Its grid; nothing is put where a panel lies.
    look : Look
        Of the book.
    unit : float
        Pixels per pixel of a page 2,000 px high.
    rng : numpy Generator
        Source of all chance.
    number : int
        Page number; by chance where 0.
    """
    ink: RGB = (236, 236, 232) if max(look.ground) < 90 else (34, 34, 36)
    cap = SMALL_CAP_PX * unit
    foot = max(p.box[3] for p in plan.panels)
    head = min(p.box[1] for p in plan.panels)
    if plan.height - foot > cap * 4 and (number or rng.random() < 0.5):
        text = str(number or int(rng.integers(1, 220)))
        place = 0.5 if rng.random() < 0.6 else float(rng.choice([0.08, 0.92]))
        y = foot + (plan.height - foot) * rng.uniform(0.4, 0.6)
        block = set_text(text, cap, plan.width, look.hand)
        draw_text(page, block, plan.width * place, y, look.hand, rng, ink)
    if head > cap * 4 and rng.random() < 0.08 and not number:
        block = set_text(TITLE, cap * rng.uniform(1, 1.6), plan.width, look.hand)
        draw_text(page, block, plan.width / 2, head * 0.5, look.hand, rng, ink)
    if plan.height - foot > cap * 3.2 and rng.random() < 0.07 and not number:
        note = f"* {rng.choice(LINES)}"
        block = set_text(note, cap * 0.85, plan.width * 0.8, look.hand)
        x = plan.live[0] + block.width_px / 2
        draw_text(page, block, x, foot + cap * 1.5, look.hand, rng, ink)


def with_text_below(plan: PagePlan, share: float = 0.3) -> PagePlan:
    """Shorten all panels and keep the room below them for lines of text."""
    panels, rooms = [], []
    for p in plan.panels:
        x0, y0, x1, y1 = p.box
        foot = y1 - (y1 - y0) * share
        points = np.array([(x0, y0), (x1, y0), (x1, foot), (x0, foot)])
        panels.append(PanelPlan(points, border=p.border))
        rooms.append((x0, foot, x1, y1))
    return replace(plan, panels=tuple(panels), text_rooms=tuple(rooms))


def text_below(
    page: np.ndarray, plan: PagePlan, look: Look, unit: float, rng: np.random.Generator
) -> None:  # fmt: skip
    """Write a line or two of narration into the room below each panel (in place)."""
    for x0, y0, x1, y1 in plan.text_rooms:
        cap = 13.0 * unit
        text = f"{rng.choice(CAPTIONS)} {rng.choice(LINES)}"
        block = set_text(text, cap, (x1 - x0) * 0.95, look.hand)
        if block.height_px < (y1 - y0) * 0.85 and block.width_px < (x1 - x0) * 1.05:
            draw_text(page, block, (x0 + x1) / 2, y0 + cap + block.height_px / 2, look.hand, rng)
