"""The index's arrays: what finding needs of each page, in less than 1 KB.

Coordinates are page-relative, kept as 16-bit numbers over -0.5..1.5 of the page: a step is
0.003 % of it, a hundredth of a millimetre on a printed page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from panelscan.finder.vectors import vectors_of_rows
from panelscan.layout.fields import ROW_LENGTH, panel_rows
from panelscan.layout.pages import lay_out_grid
from panelscan.model.grid import Grid
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge, ReadingDirection

EDGES = tuple(PageEdge)
SIDES = ("", "left", "right", "spread")
_STEPS = 65535


@dataclass(frozen=True, eq=False)
class IndexArrays:
    """G pages, P panels, K corners.

    Parameters
    ----------
    ids : ndarray of bytes, shape (G,)
    book : ndarray of int32, shape (G,)
        Place in the list of books.
    number : ndarray of int32, shape (G,)
        Page number.
    side : ndarray of uint8, shape (G,)
        Place in ``SIDES``.
    aspect, clarity : ndarray of float32, shape (G,)
    width_mm, height_mm : ndarray of float32, shape (G,)
        NaN where unknown.
    rtl : ndarray of bool, shape (G,)
    tiers : ndarray of uint8, shape (G,)
    splash : ndarray of bool, shape (G,)
        The page is one picture.
    form : ndarray of int32, shape (G,)
        Place in the list of forms (see `by_grid.form_of`), -1 unknown.
    starts : ndarray of int32, shape (G + 1,)
        Panels of each page.
    vectors : ndarray of float16, shape (G, D)
    boxes : ndarray of uint16, shape (P, 4)
    areas : ndarray of float32, shape (P,)
    bleeds : ndarray of uint8, shape (P,)
        Bits of left, top, right, bottom.
    hosts : ndarray of int16, shape (P,)
        Place of the host of an inset, -1 without.
    shapes : ndarray of float32, shape (P,)
        True width of the box divided by its height.
    slants : ndarray of float32, shape (P,)
        Largest turn of a side from upright or level, in degrees; 0 for a round panel.
    free_tops : ndarray of float32, shape (P,)
        Calm strip at the top as a share of the height; NaN unknown.
    corner_starts : ndarray of int32, shape (P + 1,)
    corners : ndarray of uint16, shape (K, 2)
    """

    ids: np.ndarray
    book: np.ndarray
    number: np.ndarray
    side: np.ndarray
    aspect: np.ndarray
    clarity: np.ndarray
    width_mm: np.ndarray
    height_mm: np.ndarray
    rtl: np.ndarray
    tiers: np.ndarray
    splash: np.ndarray
    form: np.ndarray
    starts: np.ndarray
    vectors: np.ndarray
    boxes: np.ndarray
    areas: np.ndarray
    bleeds: np.ndarray
    hosts: np.ndarray
    shapes: np.ndarray
    slants: np.ndarray
    free_tops: np.ndarray
    corner_starts: np.ndarray
    corners: np.ndarray

    def __len__(self) -> int:
        return len(self.ids)

    @property
    def bytes_per_page(self) -> float:
        """Mean size of a page in the index."""
        size = sum(int(getattr(self, f.name).nbytes) for f in fields(self))
        return size / max(len(self), 1)


def pack(shares: np.ndarray) -> np.ndarray:
    """Page-relative coordinates as 16-bit steps.

    Examples
    --------
    >>> unpack(pack(np.array([0.0, 0.25, 1.0]))).round(4).tolist()
    [0.0, 0.25, 1.0]
    """
    steps = np.rint((np.asarray(shares, dtype=float) + 0.5) / 2 * _STEPS)
    return np.clip(steps, 0, _STEPS).astype(np.uint16)


def unpack(steps: np.ndarray) -> np.ndarray:
    """16-bit steps as page-relative coordinates."""
    shares: np.ndarray = steps.astype(np.float32) * np.float32(2 / _STEPS) - np.float32(0.5)
    return shares


def pack_flags(flags: np.ndarray) -> np.ndarray:
    """Four yes-or-no columns (left, top, right, bottom) as bits, shape (N,)."""
    bits: np.ndarray = (np.asarray(flags, dtype=np.uint8) << np.arange(4, dtype=np.uint8)).sum(
        axis=1, dtype=np.uint8
    )
    return bits


def unpack_flags(bits: np.ndarray) -> np.ndarray:
    """Bits as four yes-or-no columns, shape (N, 4)."""
    flags: np.ndarray = (bits[:, None] >> np.arange(4, dtype=np.uint8)) & 1 != 0
    return flags


def arrays_of_grids(
    grids: Sequence[Grid],
    page_ids: Sequence[str],
    numbers: Sequence[int] | None = None,
    measured: bool = True,
) -> IndexArrays:
    """Arrays of grids that are at hand as objects; all count as one book.

    Parameters
    ----------
    grids, page_ids : sequences of length G
    numbers : sequence of int, optional
        Page numbers; 1 to G otherwise.
    measured : bool
        False to leave out what takes a layout to know: tiers, clarity (1) and splashes.
    """
    layouts = [lay_out_grid(g) for g in grids] if measured else []
    panels = [p for g in grids for p in g.panels]
    count = len(grids)
    numbers = list(numbers) if numbers is not None else list(range(1, count + 1))
    rows = np.concatenate([panel_rows(g) for g in grids] or [np.zeros((0, ROW_LENGTH))])
    starts = np.cumsum([0, *(len(g) for g in grids)])
    corner_counts = [len(p.outline.points) for p in panels]
    corners = [p for panel in panels for p in panel.outline.points]
    shapes = [p.outline.width * g.aspect / p.outline.height for g in grids for p in g.panels]
    slants = [slant_deg(p.outline.scaled(g.aspect, 1.0)) for g in grids for p in g.panels]
    return IndexArrays(
        ids=np.array([i.encode() for i in page_ids] or [], dtype="S"),
        book=np.zeros(count, np.int32),
        number=np.array(numbers, np.int32),
        side=np.array([1 if n % 2 == 0 else 2 for n in numbers], np.uint8),
        aspect=np.array([g.aspect for g in grids], np.float32),
        clarity=np.array([lay.clarity for lay in layouts] or [1.0] * count, np.float32),
        width_mm=np.full(count, np.nan, np.float32),
        height_mm=np.full(count, np.nan, np.float32),
        rtl=np.array([g.direction is ReadingDirection.RTL for g in grids], bool),
        tiers=np.array([len(lay.tiers) for lay in layouts] or [0] * count, np.uint8),
        splash=np.array(["splash" in lay.patterns for lay in layouts] or [False] * count, bool),
        form=np.full(count, -1, np.int32),
        starts=starts.astype(np.int32),
        vectors=vectors_of_rows(rows, starts).astype(np.float16),
        boxes=pack(np.array([p.outline.bounds for p in panels]).reshape(-1, 4)),
        areas=np.array([p.outline.area for p in panels], np.float32),
        bleeds=pack_flags(np.array([[e in p.bleed for e in EDGES] for p in panels]).reshape(-1, 4)),
        hosts=np.array([-1 if p.host is None else p.host for p in panels], np.int16),
        shapes=np.array(shapes, np.float32),
        slants=np.array(slants, np.float32),
        free_tops=np.full(len(panels), np.nan, np.float32),
        corner_starts=np.cumsum([0, *corner_counts]).astype(np.int32),
        corners=pack(np.array(corners, float).reshape(-1, 2)),
    )


def slant_deg(outline: Outline) -> float:
    """Largest turn of a side from upright or level, in degrees; the frame must be square."""
    turned = 0.0
    for (x0, y0), (x1, y1) in outline.edges():
        dx, dy = abs(x1 - x0), abs(y1 - y0)
        turned = max(turned, float(np.degrees(np.arctan2(min(dx, dy), max(dx, dy)))))
    return turned
