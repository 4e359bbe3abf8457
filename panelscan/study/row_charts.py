"""Charts of many rows: level bars with names, and strips along books."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from panelscan.study.charts import BOTTOM, COLOURS, RIGHT, TOP, WIDTH, Scale, Series, legend
from panelscan.study.drawing import FILL, FILL_2, INK, PALE, QUIET, Picture, nice_ticks

ROW, STRIP = 26.0, 44.0
NAMES = 132.0


def rows(
    title: str,
    description: str,
    names: Sequence[str],
    groups: Mapping[str, Sequence[float]],
    x_label: str,
    ends: Mapping[str, Sequence[tuple[float, float]]] | None = None,
) -> Picture:
    """Level bars, one row for each name and one bar in it for each group.

    Parameters
    ----------
    groups : mapping of str to sequence of float
        Value of each name in each group.
    ends : mapping or None
        Ends of the intervals, drawn as thin lines.
    """
    thick = ROW if len(groups) == 1 else 12.0 * len(groups) + 10.0
    top = TOP + (18.0 * len(groups) if len(groups) > 1 else 0.0)
    picture = Picture(WIDTH, top + thick * len(names) + BOTTOM, title, description)
    highs = [v for values in groups.values() for v in values if np.isfinite(v)]
    highs += [e[1] for told in (ends or {}).values() for e in told if np.isfinite(e[1])]
    lows = [v for values in groups.values() for v in values if np.isfinite(v)]
    lows += [e[0] for told in (ends or {}).values() for e in told if np.isfinite(e[0])]
    ticks = both_ticks(min([*lows, 0.0]), max([*highs, 0.0]))
    base = top + thick * len(names)
    x = Scale(ticks[0], ticks[-1], NAMES, WIDTH - 56.0)
    for tick in ticks:
        picture.line(x(tick), top, x(tick), base, stroke=PALE)
        picture.text(x(tick), base + 16, f"{tick:g}", text_anchor="middle", fill=QUIET)
    for row, name in enumerate(names):
        y = top + row * thick
        picture.text(NAMES - 8, y + thick / 2 + 5, name, text_anchor="end")
        for index, (group, values) in enumerate(groups.items()):
            told = None if ends is None else ends[group][row]
            _level_bar(picture, x, y, thick, (index, len(groups)), values[row], told)
    if len(groups) > 1:
        for index, group in enumerate(groups):
            legend(picture, group, index)
    picture.text((NAMES + WIDTH - 56) / 2, base + 36, x_label, text_anchor="middle", fill=QUIET)
    return picture


def _level_bar(
    picture: Picture,
    x: Scale,
    y: float,
    thick: float,
    which: tuple[int, int],
    value: float,
    ends: tuple[float, float] | None,
) -> None:
    index, count = which
    if not np.isfinite(value):
        return
    height = thick - 8 if count == 1 else 12.0
    at = y + 4 + index * 12.0
    left, right = sorted((x(0), x(value)))
    color = COLOURS[index % len(COLOURS)]
    picture.mark("rect", x=left, y=at, width=right - left, height=height, fill=color)
    middle = at + height / 2
    farthest = right
    if ends is not None and np.isfinite(ends[0]):
        picture.line(x(ends[0]), middle, x(ends[1]), middle, stroke=INK, stroke_width=1.5)
        farthest = max(right, x(ends[1]))
    digits = 0 if abs(value) >= 10 else 1
    picture.text(farthest + 5, middle + 4.5, f"{value:.{digits}f}", font_size=12, fill=QUIET)


def strips(
    title: str, description: str, series: Sequence[Series], y_label: str, splash: float = 1.0
) -> Picture:
    """A strip of thin bars for each series, one under the other on the same scale.

    Bars of the height ``splash`` are drawn in the second colour.
    """
    picture = Picture(WIDTH, TOP + 6 + STRIP * len(series) + 24, title, description)
    top = max((v for s in series for v in s.y if np.isfinite(v)), default=1.0)
    last = max((v for s in series for v in s.x), default=1.0)
    x = Scale(0.5, max(last, 2.0) + 0.5, NAMES, WIDTH - RIGHT)
    wide = max((x(2) - x(1)) * 0.8, 0.6)
    picture.text(NAMES, TOP, f"{y_label}, up to {top:g}", fill=QUIET)
    for index, one in enumerate(series):
        base = TOP + 6 + STRIP * (index + 1) - 6
        y = Scale(0, top, base, base - STRIP + 10)
        name = one.name if len(one.name) <= 18 else f"{one.name[:17]}…"
        picture.text(NAMES - 8, base - STRIP / 2 + 12, name, text_anchor="end")
        picture.line(NAMES, base, WIDTH - RIGHT, base, stroke=PALE)
        for is_splash, color in ((False, FILL), (True, FILL_2)):
            path = "".join(
                f"M{x(a) - wide / 2:.1f} {base:.1f}V{y(b):.1f}h{wide:.1f}V{base:.1f}z"
                for a, b in zip(one.x, one.y, strict=True)
                if (b == splash) == is_splash and np.isfinite(b)
            )
            if path:
                picture.mark("path", d=path, fill=color)
    foot = TOP + 6 + STRIP * len(series) + 14
    for tick in [1.0, *nice_ticks(last, 4)[1:]]:
        if tick <= last:
            picture.text(x(tick), foot, f"{tick:g}", text_anchor="middle", fill=QUIET)
    picture.text(NAMES - 8, foot, "page", text_anchor="end", fill=QUIET)
    return picture


def both_ticks(low: float, high: float) -> list[float]:
    """Round ticks from below ``low`` to above ``high``, 0 among them.

    Examples
    --------
    >>> both_ticks(-3, 9)
    [-5.0, 0.0, 5.0, 10.0]
    """
    step = nice_ticks(max(high - low, 1e-9), 4)[1]
    first, last = np.floor(low / step + 1e-9), np.ceil(high / step - 1e-9)
    return [float(k * step) for k in range(int(first), int(max(last, first + 1)) + 1)]
