"""The few kinds of chart that the report uses."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panelscan.study.drawing import (
    BAND,
    FILL,
    FILL_2,
    INK,
    PALE,
    PAPER,
    QUIET,
    Picture,
    nice_ticks,
)

WIDTH, HEIGHT = 480.0, 250.0
LEFT, RIGHT, TOP, BOTTOM = 48.0, 14.0, 18.0, 44.0
COLOURS = (FILL, FILL_2, "#6a7f3a", "#7a4f84")
MOST_UPRIGHTS = 80
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
        whole = math.ceil(nice_ticks(max(top, 3.0))[1])
        ticks = [float(k * whole) for k in range(math.ceil(max(top, 3.0) / whole) + 1)]
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
        if index % _every(len(names)) == 0:
            picture.text(x + step / 2, HEIGHT - BOTTOM + 16, name, text_anchor="middle")
    picture.text((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 6, x_label, text_anchor="middle", fill=QUIET)
    if norm is not None:
        _norm_mark(picture, LEFT + (norm + 0.5) * step)
    return picture


def _every(count: int) -> int:
    """Every how many-th bar gets its name, so that names do not run into each other."""
    return 1 if count <= 14 else 2 if count <= 28 else 5


def histogram(
    title: str,
    description: str,
    groups: dict[str, np.ndarray],
    x_label: str,
    bins: int = 28,
    cut: float = 0.99,
    norm: tuple[float, float] | None = None,
) -> Picture:
    """Outlined histograms of one or two groups over the same axis, as shares of each group.

    A published band lies pale behind them.
    """
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
    if norm is not None:
        left, right = (x(min(max(v, 0.0), ticks[-1])) for v in norm)
        tall = HEIGHT - BOTTOM - TOP - 12
        picture.mark("rect", x=left, y=TOP + 12, width=right - left, height=tall, fill=BAND)
    y = _value_axis(picture, nice_ticks(max(s.max() for s in shares.values())), "share, %")
    for index, (name, share) in enumerate(shares.items()):
        _stairs(picture, [x(e) for e in edges], [y(s) for s in share], y(0), index)
        if len(shares) > 1:
            legend(picture, name, index)
    _x_ticks(picture, x, ticks, x_label)
    return picture


def lines(
    title: str,
    description: str,
    series: Sequence[Series],
    x_label: str,
    y_label: str,
    marks: Sequence[float] = (),
    trend: Series | None = None,
) -> Picture:
    """Points joined by lines, with intervals as thin uprights.

    Parameters
    ----------
    marks : sequence of float
        Places along x where an upright line stands, e.g. change points.
    trend : Series or None
        A straight line to lay over.
    """
    picture = Picture(WIDTH, HEIGHT, title, description)
    highs = [v for s in series for v in (*s.y, *s.high) if np.isfinite(v)]
    y = _value_axis(picture, nice_ticks(max(highs, default=1.0)), y_label)
    xs = [v for s in series for v in s.x]
    x = Scale(min(xs, default=0), max(xs, default=1), LEFT + 20, WIDTH - RIGHT - 20)
    for mark in marks:
        picture.line(x(mark), TOP + 12, x(mark), HEIGHT - BOTTOM, stroke=FILL_2, stroke_width=2)
    if trend is not None:
        ends = [(x(a), y(b)) for a, b in zip(trend.x, trend.y, strict=True)]
        (x1, y1), (x2, y2) = ends[0], ends[-1]
        picture.line(x1, y1, x2, y2, stroke=FILL_2, stroke_dasharray="7 4", stroke_width=2)
    for index, one in enumerate(series):
        _one_line(picture, one, x, y, index)
        if len(series) > 1:
            legend(picture, one.name, index)
    ticks = xs if len(set(xs)) <= 12 else nice_ticks(max(xs), 6)
    inside = sorted({float(t) for t in ticks if min(xs) <= t <= max(xs)})
    _x_ticks(picture, x, inside, x_label)
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
    ends = [e for e in zip(one.x, one.low, one.high, strict=False) if np.isfinite(e[1:]).all()]
    if len(ends) > MOST_UPRIGHTS:
        band = [(x(a), y(high)) for a, _, high in ends] + [
            (x(a), y(low)) for a, low, _ in ends[::-1]
        ]
        picture.polygon(band, fill=color, fill_opacity=0.25)
    else:
        for a, low, high in ends:
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


def legend(picture: Picture, name: str, index: int) -> None:
    """Write the name of a group at the top right, with its colour and dash."""
    y = TOP + 12 + 18 * index
    color = COLOURS[index % len(COLOURS)]
    x = WIDTH - RIGHT - 200
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
    corners = [(x, base - 1), (x - 8, base - 15), (x + 8, base - 15)]
    picture.polygon(corners, fill=FILL_2, stroke=PAPER, stroke_width=2)


def _value_axis(picture: Picture, ticks: Sequence[float], label: str) -> Scale:
    y = Scale(ticks[0], ticks[-1], HEIGHT - BOTTOM, TOP + 12)
    for tick in ticks:
        picture.line(LEFT, y(tick), WIDTH - RIGHT, y(tick), stroke=PALE)
        picture.text(LEFT - 6, y(tick) + 4, f"{tick:g}", text_anchor="end", fill=QUIET)
    picture.text(4, TOP, label, fill=QUIET)
    return y


def _x_ticks(picture: Picture, x: Scale, ticks: Sequence[float], label: str) -> None:
    base = HEIGHT - BOTTOM
    picture.line(LEFT, base, WIDTH - RIGHT, base, stroke=INK)
    for tick in ticks:
        picture.text(x(tick), base + 16, f"{tick:g}", text_anchor="middle")
    picture.text((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 6, label, text_anchor="middle", fill=QUIET)
