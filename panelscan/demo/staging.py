"""Who stands where in a panel: a place, a distance, some figures; by chance or by a script."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.demo import scenes
from panelscan.demo.canvas import Canvas
from panelscan.demo.cast import Character
from panelscan.demo.figures import MOODS, POSES, draw_bust, draw_figure
from panelscan.demo.grids import PanelPlan
from panelscan.demo.hands import Palette
from panelscan.demo.look import Look

Head = tuple[float, float, float]
"""Middle and radius of a head, in canvas pixels."""

VIEWED = ("room", "street", "sea", "desk", "night")
"""Places with long straight lines, which an artist seldom sees square on."""

OUTDOORS = ("street", "hills", "sea", "starry")


@dataclass(frozen=True)
class Staging:
    """What a panel shows."""

    scene: str
    size: str
    who: tuple[Character, ...]
    pose: str = ""
    mood: str = ""


def stage(
    c: Canvas, plan: PanelPlan, look: Look, palette: Palette, bursts: bool
) -> tuple[list[Head], str]:
    """Draw a panel's place and figures on a canvas.

    Returns
    -------
    list of (x, y, radius)
        Heads in canvas pixels, from the left.
    str
        Name of the scene.
    """
    chosen = _by_script(plan, look) if plan.shot else _by_chance(plan, look, c.rng)
    if bursts and not plan.shot:
        size = "long" if chosen.size == "close" else chosen.size
        who = chosen.who or (look.cast[int(c.rng.integers(len(look.cast)))],)
        chosen = Staging(chosen.scene, size, who)
    floor = scenes.SCENES[chosen.scene](c, palette)
    if chosen.scene in VIEWED:
        floor = seen_from_aside(c, floor, look.level if chosen.scene != "sea" else 0.8)
    heads = []
    count = len(chosen.who)
    slots = np.linspace(0, 1, count + 2)[1:-1] + c.rng.normal(size=count) * 0.05
    for k in range(count):
        recorded = c.recording() if bursts and k == 0 else nullcontext()
        with recorded:
            heads.append(_put(c, chosen, k, float(slots[k]), floor, bursts and k == 0))
    if chosen.scene in OUTDOORS and c.rng.random() < 0.15:
        scenes.rain(c, palette)
    return heads, chosen.scene


def seen_from_aside(c: Canvas, floor: float, level: float) -> float:
    """Turn the drawn place or see it in perspective, but for a share ``level`` of chances.

    Returns the height of the ground at the middle of the canvas.
    """
    rng, w, h = c.rng, c.width, c.height
    if rng.random() < level:
        return floor
    whole = np.array([(0, 0), (w, 0), (w, h), (0, h)], dtype=np.float64)
    if rng.random() < 0.4:
        # Turned: the part of the place that is shown is a smaller, turned box.
        a = np.radians(rng.choice([-1, 1]) * rng.uniform(2, 9))
        turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
        corners = np.abs((whole - whole[2] / 2) @ turn.T).max(axis=0)
        shrink = float(min(w / 2 / corners[0], h / 2 / corners[1]))
        shown = (whole - whole[2] / 2) @ turn.T * shrink + whole[2] / 2
    else:
        # From aside: one end of the place is farther away.
        near = rng.uniform(0.5, 0.78)
        at = rng.uniform(0.3, 0.6) * h * (1 - near)
        shown = np.array([(0, at), (w, 0), (w, h), (0, at + h * near)])
        if rng.random() < 0.5:
            shown = (shown * (-1, 1) + (w, 0))[[1, 0, 3, 2]]
    view = cv2.getPerspectiveTransform(shown.astype(np.float32), whole.astype(np.float32))
    c.paint = cv2.warpPerspective(c.paint, view, (w, h), borderMode=cv2.BORDER_REPLICATE)
    c.ink = cv2.warpPerspective(c.ink, view, (w, h), borderMode=cv2.BORDER_CONSTANT)
    seen = view @ np.array([w / 2, floor, 1.0])
    return float(np.clip(seen[1] / seen[2], h * 0.4, h * 1.1))


def _put(c: Canvas, chosen: Staging, k: int, slot: float, floor: float, breaks_out: bool) -> Head:
    rng, tall, wide = c.rng, c.height, c.width
    count = len(chosen.who)
    x = float(np.clip(slot, 0.12, 0.88)) * wide
    facing = (1 if slot < 0.5 else -1) * (-1 if rng.random() < 0.12 else 1)
    mood = chosen.mood if chosen.mood and k == 0 else str(rng.choice(MOODS))
    pose = chosen.pose if chosen.pose and k == 0 else str(rng.choice(list(POSES)))
    if chosen.size == "close" and not breaks_out:
        r = min(tall * 0.24, wide * 0.22 / max(count * 0.8, 1)) * rng.uniform(0.85, 1.5)
        y = tall * rng.uniform(0.5, 0.62)
        draw_bust(c, chosen.who[k], x, y, r, facing, mood)
        return x, y, r
    if breaks_out:
        height, foot = tall * rng.uniform(0.92, 1.0), tall * rng.uniform(0.93, 1.0)
    elif chosen.size == "long":
        # Long shots in a tall panel: people do not grow with the panel's height alone.
        height, foot = min(tall * rng.uniform(0.42, 0.66), wide * 1.1), floor
    else:
        foot = tall * rng.uniform(1.0, 1.4)
        # Heads stay below the top quarter, where the lettering goes.
        height = min(tall * rng.uniform(0.85, 1.2), foot - tall * rng.uniform(0.2, 0.32))
    draw_figure(c, chosen.who[k], x, foot, height, facing, pose, mood)
    r = height * c.hand.head_share / 2
    return x, foot - height + r, r


def _by_script(plan: PanelPlan, look: Look) -> Staging:
    shot = plan.shot
    if shot is None:
        raise ValueError("this panel has no script")
    named = {who.name: who for who in look.cast}
    return Staging(shot.scene, shot.size, tuple(named[n] for n in shot.who), shot.pose, shot.mood)


def _by_chance(plan: PanelPlan, look: Look, rng: np.random.Generator) -> Staging:
    shown_edge = plan.border in ("none", "soft") or len(plan.open_sides) > 0
    scene = plan.scene or _pick_scene(look, rng, plan, shown_edge)
    count = int(rng.choice([0, 1, 2, 3], p=[0.1, 0.45, 0.35, 0.1]))
    if scene == "desk" and rng.random() < 0.8:
        count = 0
    size = str(rng.choice(["long", "medium", "close"], p=[0.35, 0.35, 0.3]))
    if scene in ("tone", "speed") and size == "long":
        size = "medium"
    who = tuple(look.cast[int(k)] for k in rng.integers(len(look.cast), size=count))
    return Staging(scene, size, who)


def _pick_scene(look: Look, rng: np.random.Generator, plan: PanelPlan, shown_edge: bool) -> str:
    if plan.open_sides:
        return "blank"
    if rng.random() < look.decoys:
        weights = np.array([0 if s in look.avoid else 1.0 for s in scenes.DECOY_SCENES])
        weights *= (0.5, 0.27, 0.13, 0.1)
        return str(rng.choice(scenes.DECOY_SCENES, p=weights / weights.sum()))
    names = ["room", "street", "hills", "sea", "starry", "night", "tone", "speed", "blank"]
    weights = np.array([0.12, 0.12, 0.14, 0.14, 0.05, 0.05, 0.24, 0.07, 0.07])
    if shown_edge:
        weights[-2:] = 0
    weights = weights * [0 if s in look.avoid else 1.0 for s in names]
    return str(rng.choice(names, p=weights / weights.sum()))
