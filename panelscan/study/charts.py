"""The few kinds of chart that the report uses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panelscan.study.drawing import FILL, FILL_2, INK, PALE, QUIET, Picture, nice_ticks

WIDTH, HEIGHT = 640.0, 260.0
LEFT, RIGHT, TOP, BOTTOM = 56.0, 16.0, 16.0, 44.0
COLOURS = (FILL, FILL_2, "#6a7f3a", "#7a4f84")
COUNTED = ("pages", "times")
DASHES = ("none", "6 3", "2 3", "8 3 2 3")


@dataclass(frozen=True)
class Series:
    """Values with their intervals along a chart."""

    name: str
    x: Sequence[float]
    y: Sequence[float]
    low: Sequence[float] = ()
    high: Sequence[float] = ()


@dataclass(frozen=True)
class Scale:
    """Straight map from values to the picture."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """Place of a value in the picture."""
        span = self.high - self.low or 1.0
        return self.start + (value - self.low) / span * (self.end - self.start)


def bars(
    title: str,
    description: str,
    names: Sequence[str],
    values: Sequence[float],
    x_label: str,
    y_label: str,
    norm: float | None = None,
) -> Picture:
    """Bars, one for each name; a short mark on the axis shows a published figure's place."""
    picture = Picture(WIDTH, HEIGHT, title, description)
    top = max(values, default=1.0)
    ticks = nice_ticks(top)
    if y_label in COUNTED:
        ticks = sorted({float(round(t)) for t in nice_ticks(max(top, 3.0))})
    y = _value_axis(picture, ticks, y_label)
    step = (WIDTH - LEFT - RIGHT) / max(len(names), 1)
    for index, (name, value) in enumerate(zip(names, values, strict=True)):
        x = LEFT + index * step
        picture.mark(
            "rect",
            x=x + step * 0.12,
            y=y(value),
            width=step * 0.76,
            height=max(y(0) - y(value), 0.0),
            fill=FILL,
        )
        if len(names) <= 30 or index % 5 == 0:
            picture.text(x + step / 2, HEIGHT - BOTTOM + 16, name, text_anchor="middle")
    picture.text((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 6, x_label, text_anchor="middle", fill=QUIET)
    if norm is not None:
        _norm_mark(picture, LEFT + (norm + 0.5) * step)
    return picture


def histogram(
    title: str,
    description: str,
    groups: dict[str, np.ndarray],
    x_label: str,
    bins: int = 28,
    cut: float = 0.99,
) -> Picture:
    """Outlined histograms of one or two groups over the same axis, as shares of each group."""
    good = {k: v[np.isfinite(v)] for k, v in groups.items()}
    good = {k: v for k, v in good.items() if len(v)}
    picture = Picture(WIDTH, HEIGHT, title, description)
    if not good:
        picture.text(WIDTH / 2, HEIGHT / 2, "Nothing measured yet", text_anchor="middle")
        return picture
    end = max(float(np.quantile(v, cut)) for v in good.values()) or 1.0
    ticks = nice_ticks(end, 6)
    edges = np.linspace(0, ticks[-1], bins + 1)
    shares = {k: 100 * np.histogram(v, edges)[0] / len(v) for k, v in good.items()}
    x = Scale(0, ticks[-1], LEFT, WIDTH - RIGHT)
    y = _value_axis(picture, nice_ticks(max(s.max() for s in shares.values())), "share, %")
    for index, (name, share) in enumerate(shares.items()):
        _stairs(picture, [x(e) for e in edges], [y(s) for s in share], y(0), index)
        _legend(picture, name, index)
    _x_ticks(picture, x, ticks, x_label)
    return picture


def lines(
    title: str,
    description: str,
    series: Sequence[Series],
    x_label: str,
    y_label: str,
    x_names: Sequence[str] = (),
    norm_band: tuple[float, float] | None = None,
) -> Picture:
    """Points joined by lines, with intervals as thin uprights."""
    picture = Picture(WIDTH, HEIGHT, title, description)
    highs = [v for s in series for v in (*s.y, *s.high) if np.isfinite(v)]
    y = _value_axis(picture, nice_ticks(max(highs, default=1.0)), y_label)
    xs = [v for s in series for v in s.x]
    x = Scale(min(xs, default=0), max(xs, default=1), LEFT + 20, WIDTH - RIGHT - 20)
    if norm_band is not None:
        low, high = norm_band
        picture.mark(
            "rect",
            x=LEFT,
            y=y(high) - 1,
            width=WIDTH - LEFT - RIGHT,
            height=max(y(low) - y(high), 2.0),
            fill=PALE,
        )
    for index, one in enumerate(series):
        _one_line(picture, one, x, y, index)
        if len(series) > 1:
            _legend(picture, one.name, index)
    ticks = xs if len(set(xs)) <= 12 else nice_ticks(max(xs), 8)
    _x_ticks(picture, x, sorted({float(t) for t in ticks if t <= max(xs)}), x_label, x_names)
    return picture


def _one_line(picture: Picture, one: Series, x: Scale, y: Scale, index: int) -> None:
    color = COLOURS[index % len(COLOURS)]
    points = [(x(a), y(b)) for a, b in zip(one.x, one.y, strict=True) if np.isfinite(b)]
    path = " ".join(f"{px:.1f},{py:.1f}" for px, py in points)
    picture.mark(
        "polyline",
        points=path,
        fill="none",
        stroke=color,
        stroke_width=2,
        stroke_dasharray=DASHES[index % len(DASHES)],
    )
    for a, low, high in zip(one.x, one.low, one.high, strict=False):
        if np.isfinite(low) and np.isfinite(high):
            picture.line(x(a), y(low), x(a), y(high), stroke=color)
    if len(points) <= 60:
        for px, py in points:
            picture.mark("circle", cx=px, cy=py, r=3, fill=color)


def _stairs(picture: Picture, xs: list[float], ys: list[float], base: float, index: int) -> None:
    points = [(xs[0], base)]
    for left, right, top in zip(xs, xs[1:], ys, strict=False):
        points += [(left, top), (right, top)]
    points.append((xs[-1], base))
    color = COLOURS[index % len(COLOURS)]
    picture.polygon(
        points,
        fill=color,
        fill_opacity=0.35,
        stroke=color,
        stroke_width=1.5,
        stroke_dasharray=DASHES[index % len(DASHES)],
    )


def _legend(picture: Picture, name: str, index: int) -> None:
    y = TOP + 12 + 18 * index
    color = COLOURS[index % len(COLOURS)]
    x = WIDTH - RIGHT - 190
    picture.line(
        x,
        y - 4,
        x + 24,
        y - 4,
        stroke=color,
        stroke_width=3,
        stroke_dasharray=DASHES[index % len(DASHES)],
    )
    picture.text(x + 30, y, name)


def _norm_mark(picture: Picture, x: float) -> None:
    base = HEIGHT - BOTTOM
    picture.polygon([(x, base), (x - 5, base - 9), (x + 5, base - 9)], fill=FILL_2)


def _value_axis(picture: Picture, ticks: Sequence[float], label: str) -> Scale:
    y = Scale(ticks[0], ticks[-1], HEIGHT - BOTTOM, TOP + 12)
    for tick in ticks:
        picture.line(LEFT, y(tick), WIDTH - RIGHT, y(tick), stroke=PALE)
        picture.text(LEFT - 6, y(tick) + 4, f"{tick:g}", text_anchor="end", fill=QUIET)
    picture.text(4, TOP, label, fill=QUIET)
    return y


def _x_ticks(
    picture: Picture, x: Scale, ticks: Sequence[float], label: str, names: Sequence[str] = ()
) -> None:
    base = HEIGHT - BOTTOM
    picture.line(LEFT, base, WIDTH - RIGHT, base, stroke=INK)
    for index, tick in enumerate(ticks):
        words = names[index] if index < len(names) else f"{tick:g}"
        picture.text(x(tick), base + 16, words[:14], text_anchor="middle")
    picture.text((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 6, label, text_anchor="middle", fill=QUIET)
