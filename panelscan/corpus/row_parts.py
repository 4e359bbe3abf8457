"""What the rows of pages, panels and gutters have in common."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median
from typing import Any

import shapely

from panelscan.layout.frame import frame_map
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge
from panelscan.model.record import PageRecord

Row = dict[str, Any]


@dataclass(frozen=True)
class FrameSize:
    """Size of the page frame in source pixels and, where known, in millimetres."""

    width_px: float
    height_px: float
    width_mm: float | None
    height_mm: float | None

    @classmethod
    def of(cls, record: PageRecord) -> FrameSize:
        """Size of a page's frame, laid flat."""
        flat = frame_map(record.finding.frame)
        width, height = flat.width, flat.height
        if record.resolution is None:
            return cls(width, height, None, None)
        return cls(width, height, record.resolution.x_mm(width), record.resolution.y_mm(height))


def wkb(outline: Outline) -> bytes:
    """WKB of an outline, little endian."""
    return bytes(shapely.to_wkb(outline.shape, byte_order=1))


def box_of(outline: Outline) -> Row:
    """Bounding box as the struct column wants it."""
    return dict(zip(("xmin", "ymin", "xmax", "ymax"), outline.bounds, strict=True))


def bleed_columns(edges: Iterable[PageEdge]) -> Row:
    """The four columns that say which edges are run off."""
    run_off = set(edges)
    return {f"bleed_{edge}": edge in run_off for edge in PageEdge}


def times(value: float | None, factor: float | None) -> float | None:
    """The product; None where either is unknown."""
    return None if value is None or factor is None else value * factor


def median_of(values: Iterable[float | None]) -> float | None:
    """Median of the known values; None where there is none."""
    known = [v for v in values if v is not None]
    return median(known) if known else None
