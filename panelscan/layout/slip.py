"""How far tiers that do not line up slip against each other, and the best line between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panelscan.layout.clarity import BLOCKED_AT

STARTS_ABOVE = 0.4
LEVEL = 0.06
CLOSES = (0.85, 0.96)
"""Share of a stack's lower part that a panel covers when it begins to close it, and has."""
CLOSES_AS_LAST = (0.4, 0.7)
"""The same for a panel with nothing below it in its own column."""


@dataclass(frozen=True)
class Rows:
    """Panels above and below a level line that no clean cut follows.

    Parameters
    ----------
    above, below : tuple of int
        The two rows.
    slip : float
        See `slip_of`.
    blocked : bool
        A single panel on the far side closes a stack.
    tall_between : bool
        A tall panel stands between stacks whose own gutters line up.
    """

    above: tuple[int, ...]
    below: tuple[int, ...]
    slip: float
    blocked: bool
    tall_between: bool


def slip_of(
    boxes: np.ndarray,
    above: Sequence[int],
    below: Sequence[int],
    columns: np.ndarray | None = None,
) -> float:
    """How far panels of one row reach past the line into the next row.

    Parameters
    ----------
    boxes : ndarray of float64, shape (N, 4)
        x_min, y_min, x_max, y_max; x grows in the direction of reading.
    above, below : sequence of int
        The two rows.
    columns : ndarray of int, shape (N,), optional
        Column that each panel stands in, counted in the direction of reading; found from
        the boxes if missing.

    Returns
    -------
    float
        Length by which a panel of the upper row stands beside panels of the lower row that
        come before it along the row, against the geometric mean of both heights; 0 in a
        grid, at least 0.707 for a panel that closes a whole stack.

    Notes
    -----
    A tall panel at the near side stands in nobody's way: it counts only where its own
    column goes on below it.
    """
    upper, lower = np.asarray(above), np.asarray(below)
    own, rest = boxes[upper], boxes[lower]
    beside = rest[:, 1] < own[:, 3, None]
    if not beside.any():
        return 0.0
    if columns is not None:
        stand, others = columns[upper][:, None], columns[lower]
        before, after, goes_on = others < stand, others > stand, (others == stand).any(axis=1)
    else:
        before, after, over = _sides_of(own, rest)
        goes_on = over.any(axis=1)
    early = _reach(own, *_span(rest, beside & before), goes_on)
    late = _reach(own, *_span(rest, beside & after), goes_on)
    return float(np.maximum(early, np.where(goes_on, late, 0.0)).max().clip(max=1.0))


def slips_along(boxes: np.ndarray, ranked: Sequence[int]) -> np.ndarray:
    """How far each panel reaches into all that come from some place in a list on.

    Parameters
    ----------
    boxes : ndarray of float64, shape (N, 4)
        x_min, y_min, x_max, y_max; x grows in the direction of reading.
    ranked : sequence of int
        The M panels of a group, from top to bottom.

    Returns
    -------
    ndarray of float64, shape (M, M)
        ``slips[a:t, t].max()`` is `slip_of` of ``ranked[a:t]`` above and ``ranked[t:]``
        below, for every a and t at once.
    """
    own = boxes[list(ranked)]
    beside = own[:, 1] < own[:, 3, None]
    before, after, over = _sides_of(own, own)
    goes_on = np.logical_or.accumulate(over[:, ::-1], axis=1)[:, ::-1]
    early = _reach(own[:, None], *_spans_from(own, beside & before), goes_on)
    late = _reach(own[:, None], *_spans_from(own, beside & after), goes_on)
    result: np.ndarray = np.maximum(early, np.where(goes_on, late, 0.0)).clip(max=1.0)
    return result


def _sides_of(own: np.ndarray, rest: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Which lower panels stand before each upper one, which after, and which below it.

    All of shape (upper, lower).
    """
    x0, x1 = own[:, 0, None], own[:, 2, None]
    shared = np.minimum(rest[:, 2], x1) - np.maximum(rest[:, 0], x0)
    apart = shared < 0.3 * np.minimum(rest[:, 2] - rest[:, 0], x1 - x0)
    earlier = rest[:, 0] + rest[:, 2] < x0 + x1
    middles = (rest[:, 0] + rest[:, 2]) / 2
    return apart & earlier, apart & ~earlier, (middles > x0) & (middles < x1)


def _span(rest: np.ndarray, counts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Top and bottom of the lower panels that count beside each upper one."""
    top = np.where(counts, rest[:, 1], np.inf).min(axis=1, initial=np.inf)
    bottom = np.where(counts, rest[:, 3], -np.inf).max(axis=1, initial=-np.inf)
    return top, bottom


def _spans_from(rest: np.ndarray, counts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """`_span` of the lower panels from each place on."""
    top = np.where(counts, rest[:, 1], np.inf)[:, ::-1]
    bottom = np.where(counts, rest[:, 3], -np.inf)[:, ::-1]
    return (
        np.minimum.accumulate(top, axis=1)[:, ::-1],
        np.maximum.accumulate(bottom, axis=1)[:, ::-1],
    )


def _reach(own: np.ndarray, top: np.ndarray, bottom: np.ndarray, goes_on: np.ndarray) -> np.ndarray:
    """How far upper panels reach down beside lower ones from top to bottom; 0 beside none."""
    into = np.maximum(0.0, np.minimum(own[..., 3], bottom) - np.maximum(top, own[..., 1]))
    height = np.maximum(own[..., 3] - own[..., 1], 1e-12)
    other = np.maximum(bottom - top, 1e-12)
    slip = into / np.sqrt(height * other)
    # A panel that runs to the foot of what stands beside it closes it, however short that is.
    start = np.where(goes_on, CLOSES[0], CLOSES_AS_LAST[0])
    full = np.where(goes_on, CLOSES[1], CLOSES_AS_LAST[1])
    closed = np.clip((into / other - start) / (full - start), 0.0, 1.0)
    result: np.ndarray = slip + closed * np.maximum(0.0, BLOCKED_AT - slip)
    return result


def parted_rows(
    boxes: np.ndarray,
    group: Sequence[int],
    blocks: Sequence[Sequence[int]],
    lines: Sequence[float],
) -> Rows | None:
    """Rows along the line that slips least, of columns without a common level cut.

    Parameters
    ----------
    boxes : ndarray of float64, shape (N, 4)
        Bounding boxes.
    group : sequence of int
        All panels.
    blocks : sequence of sequence of int
        The same panels by columns.
    lines : sequence of float
        Heights of the level gutters inside the columns.

    Returns
    -------
    Rows or None
        None where no line parts the panels otherwise than the columns do.
    """
    members = np.asarray(group)
    columns = np.full(len(boxes), -1)
    for k, block in enumerate(blocks):
        columns[list(block)] = k
    middle = float(boxes[members, 1].min() + boxes[members, 3].max()) / 2
    best: tuple[tuple[float, float], Rows] | None = None
    for line in lines:
        above, below = _sides(boxes, members, line)
        if not above or not below:
            continue
        if set(below) <= set(blocks[-1]) or set(above) <= set(blocks[0]):
            continue  # the same order as column by column
        slip = slip_of(boxes, above, below, columns)
        key = (round(slip, 6), abs(line - middle))
        if best is None or key < best[0]:
            tall = _crossing_singles(boxes, blocks, line)
            rows = Rows(above, below, slip, bool(tall), _between(boxes, blocks, tall, line))
            best = (key, rows)
    return best[1] if best else None


def _sides(
    boxes: np.ndarray, members: np.ndarray, line: float
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    own = boxes[members]
    height = own[:, 3] - own[:, 1]
    row = max(line - float(own[:, 1].min()), 1e-12)
    starts = (line - own[:, 1]) / np.minimum(height, row) >= STARTS_ABOVE
    return tuple(int(i) for i in members[starts]), tuple(int(i) for i in members[~starts])


def _crossing_singles(boxes: np.ndarray, blocks: Sequence[Sequence[int]], line: float) -> list[int]:
    """Blocks of one panel that stand across the line, with a stack before them."""
    found = []
    for k, block in enumerate(blocks):
        if len(block) == 1:
            _, top, _, bottom = boxes[block[0]]
            deep = min(line - top, bottom - line) > 0.15 * (bottom - top)
            if deep and any(len(b) > 1 for b in blocks[:k]):
                found.append(k)
    return found


def _between(
    boxes: np.ndarray, blocks: Sequence[Sequence[int]], tall: Sequence[int], line: float
) -> bool:
    """Whether stacks of two stand before and after every tall block, level with each other.

    The printed page behind this has stacks of two; beside higher stacks a tall panel between
    them counts as one that closes the first.
    """
    if not tall or any(len(block) > 2 for block in blocks):
        return False
    rest = [i for k, block in enumerate(blocks) if k not in tall for i in block]
    after = any(len(b) > 1 for b in blocks[max(tall) + 1 :])
    own = boxes[rest]
    into = np.minimum(own[:, 3] - line, line - own[:, 1])
    return after and bool((into <= LEVEL * (own[:, 3] - own[:, 1])).all())
