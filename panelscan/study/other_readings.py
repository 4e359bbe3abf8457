"""What detection left open: other readings of pages, drawn with their probabilities.

A reading that only has the same panels again is no other reading for the habits; its
probability goes to the best one. The rest are laid out anew, with the measured outlines of
the panels that they share with the best reading.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from panelscan.model.page import PageEdge, ReadingDirection
from panelscan.study.other_layouts import KEPT, OtherPage, Row, other_rows
from panelscan.study.reading_compare import AT_EDGE, Doubtful, compared
from panelscan.study.source import Source
from panelscan.study.uncertainty import IMPUTATIONS

if TYPE_CHECKING:
    import pandas as pd

MOST_READ, MOST_LAID_OUT = 4000, 600
"""Pages whose readings are looked at, and readings laid out; a larger shelf is sampled."""
SHARES = ("x_min_share", "y_min_share", "x_max_share", "y_max_share")
KNOWN = (*KEPT, "confidence", "depth", "shape", "slant_deg")


@dataclass(frozen=True, eq=False)
class OtherReadings:
    """Drawn readings other than the best ones, laid out.

    Parameters
    ----------
    chosen : ndarray of int, shape (M, P)
        Reading drawn for each page in each imputed library; 0 is the best one.
    scale : float
        Pages in doubt for each page whose readings were looked at: 1 unless the shelf is large.
    pages, panels, gutters : DataFrame
        Rows of the readings drawn: ``page`` (row in the shelf's pages), ``reading`` (from 1),
        and columns as in the library.
    """

    chosen: np.ndarray
    scale: float
    pages: pd.DataFrame
    panels: pd.DataFrame
    gutters: pd.DataFrame


def other_readings(
    pages: pd.DataFrame, panels: pd.DataFrame, source: Source, seed: int
) -> OtherReadings:
    """Draw readings for every page and lay out those that were drawn.

    Parameters
    ----------
    pages : DataFrame
        The shelf's pages.
    panels : DataFrame
        Panels with ``page``, sorted by page and place in the order.
    source : Source
        Gives readings, frames and outlines.
    seed : int
        The same seed gives the same draws.
    """
    rng = np.random.default_rng(seed + 1)
    starts = np.searchsorted(panels["page"].to_numpy(), np.arange(len(pages) + 1))
    chosen = np.zeros((IMPUTATIONS, len(pages)), dtype=np.int16)
    asked, in_doubt = _pages_asked(pages, rng)
    doubtful: list[Doubtful] = []
    seen = drawn = 0
    for one in _looked_at(pages, panels, source, asked, starts):
        seen += 1
        if one is not None and one.odds:
            chosen[:, one.page] = _draw(np.array(one.odds), rng)
            count = len(np.unique(chosen[:, one.page])) - int(0 in chosen[:, one.page])
            doubtful += [one] * bool(count)
            drawn += count
        if drawn >= MOST_LAID_OUT:
            break
    scale = in_doubt / seen if seen else 1.0
    tables = _laid_out(pages, panels, source, doubtful, chosen, starts)
    return OtherReadings(chosen, scale, *tables)


def _pages_asked(pages: pd.DataFrame, rng: np.random.Generator) -> tuple[np.ndarray, int]:
    """Pages to look at, in an order drawn at random, and how many there would be."""
    sure = pages["reviewed"].fillna(False).to_numpy(dtype=bool)
    asked = rng.permutation(np.flatnonzero(~sure))
    return asked[:MOST_READ], len(asked)


def _draw(odds: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """One reading for each imputed library, 0 for the best; each with its own probability.

    Systematic draws (a common offset, then shuffled) hit each probability as nearly as the
    number of imputed libraries allows.
    """
    others = odds / max(1.0, odds.sum())
    ends = np.cumsum(np.concatenate([[max(0.0, 1.0 - others.sum())], others]))
    at = (rng.random() + np.arange(IMPUTATIONS)) / IMPUTATIONS
    drawn = np.minimum(np.searchsorted(ends, at, side="right"), len(others))
    return np.asarray(rng.permutation(drawn))


def _looked_at(
    pages: pd.DataFrame,
    panels: pd.DataFrame,
    source: Source,
    asked: np.ndarray,
    starts: np.ndarray,
) -> Iterator[Doubtful | None]:
    """Each page asked with its differing readings; None for one without any reading kept."""
    ids = pages["page_id"].to_numpy()[asked].tolist()
    texts = source.readings(ids)
    frames = source.frames([i for i in ids if len(texts.get(i) or "") > 2])
    table = [panels[name].to_numpy() for name in (*SHARES, "area_share")]
    for page_id, page in zip(ids, asked.tolist(), strict=True):
        if page_id not in frames:
            yield None
            continue
        own = slice(starts[page], starts[page + 1])
        known = np.column_stack([column[own] for column in table]).astype(float)
        yield compared(page, json.loads(texts[page_id]), frames[page_id], known)


def _laid_out(
    pages: pd.DataFrame,
    panels: pd.DataFrame,
    source: Source,
    doubtful: Sequence[Doubtful],
    chosen: np.ndarray,
    starts: np.ndarray,
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    import pandas as pd

    ids = pages["page_id"].to_numpy()
    outlines = source.outlines([ids[d.page] for d in doubtful]) if doubtful else {}
    insets = [d.inset_px for d in doubtful if np.isfinite(d.inset_px)]
    usual = float(np.median(insets)) if insets else 0.0
    tables: tuple[list[Row], list[Row], list[Row]] = ([], [], [])
    spans = [np.arange(starts[d.page], starts[d.page + 1]) for d in doubtful]
    some = panels.iloc[np.concatenate(spans)] if spans else panels.iloc[:0]
    columns = {name: some[name].to_numpy() for name in KNOWN if name in some}
    at = 0
    for one in doubtful:
        told: Row = {str(name): value for name, value in pages.iloc[one.page].items()}
        own = range(at, at + len(one.known))
        known: list[Row] = [{name: c[k] for name, c in columns.items()} for k in own]
        at = own.stop
        measured = outlines.get(ids[one.page], [])
        for reading in np.unique(chosen[:, one.page][chosen[:, one.page] > 0]).tolist():
            page = _other_page(one, reading - 1, told, measured, usual)
            key = {"page": one.page, "reading": reading}
            page_row, panel_rows, gutter_rows = other_rows(page, known)
            tables[0].append(key | page_row)
            tables[1].extend(key | row for row in panel_rows)
            tables[2].extend(key | row for row in gutter_rows)
    frames = [pd.DataFrame(rows) for rows in tables]
    for frame in frames:
        if frame.empty:
            frame[["page", "reading"]] = np.zeros((0, 2), dtype=np.int64)
    return frames[0], frames[1], frames[2]


def _other_page(
    one: Doubtful, index: int, told: Row, measured: Sequence[np.ndarray], usual: float
) -> OtherPage:
    size = np.array([one.flat.width, one.flat.height])
    inset = one.inset_px if np.isfinite(one.inset_px) else usual
    rings, bleeds = [], []
    for ring, twin in zip(one.rings[index], one.twins[index].tolist(), strict=True):
        own = measured[twin] if 0 <= twin < len(measured) else None
        rings.append(own * size if own is not None else _grown(ring * size, inset))
        bleeds.append(_bleeds(ring, one.known, told))
    return OtherPage(
        rings,
        one.twins[index].tolist(),
        bleeds,
        float(size[0]),
        float(size[1]),
        float(told["width_mm"]) if told.get("width_mm") is not None else float("nan"),
        float(told["height_mm"]) if told.get("height_mm") is not None else float("nan"),
        ReadingDirection.RTL if told.get("direction") == "rtl" else ReadingDirection.LTR,
        one.fold_x_px,
    )


def _grown(ring: np.ndarray, by: float) -> np.ndarray:
    """The ring with every side moved outward (inward where negative)."""
    if abs(by) < 1e-6:
        return ring
    shape = shapely.buffer(shapely.polygons(ring), by, join_style="mitre")
    if shape.geom_type != "Polygon" or shape.is_empty:
        return ring
    return np.asarray(shapely.get_coordinates(shape.exterior)[:-1])


def _bleeds(ring: np.ndarray, known: np.ndarray, told: Row) -> frozenset[PageEdge]:
    """Edges that a panel runs off: it reaches the edge, or as far as the panel that bleeds."""
    low, high = ring.min(axis=0), ring.max(axis=0)
    found = set()
    for edge, value, end, column, sign in (
        (PageEdge.LEFT, low[0], 0.0, 0, 1),
        (PageEdge.TOP, low[1], 0.0, 1, 1),
        (PageEdge.RIGHT, high[0], 1.0, 2, -1),
        (PageEdge.BOTTOM, high[1], 1.0, 3, -1),
    ):
        limit = end
        if len(known) and told.get(f"bleed_{edge}") == True:  # noqa: E712  may be null
            outermost = (sign * known[:, column]).min() * sign
            limit = sign * max(sign * end, sign * float(outermost))
        if sign * (value - limit) < AT_EDGE:
            found.add(edge)
    return frozenset(found)
