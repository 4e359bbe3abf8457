"""How right panelscan is on this artist's own pages, from those that were put right by hand."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from panelscan.corpus.amend import corrected_pages
from panelscan.corpus.standing import in_reading_order, standing
from panelscan.layout.agreement import Counts, counts_at, iou_table, match_panels, page_exact
from panelscan.layout.score_figures import bootstrap_interval, wilson_interval

if TYPE_CHECKING:
    from panelscan.corpus.store import Library

F1_AT = (0.75, 0.9, 0.95)


@dataclass(frozen=True)
class Share:
    """A figure with its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Accuracy:
    """How right the newest detections are, measured on reviewed pages.

    Parameters
    ----------
    pages, panels : int
        Reviewed pages and their panels.
    f1 : dict of float to Share
        F1 of the panels at an IoU threshold; interval by drawing whole books.
    page_exact : Share
        Share of pages whose panels are all right at IoU 0.9; Wilson interval.
    order_exact : Share
        Share of the pages with the right panels that are also read in the right order.

    Notes
    -----
    People review doubtful pages first, so these figures are rather lower than on the whole
    library; and a page that was called fine without a change counts its outlines as exact.
    """

    pages: int
    panels: int
    f1: dict[float, Share]
    page_exact: Share
    order_exact: Share


def accuracy(library: Library) -> Accuracy | None:
    """Accuracy on the pages of a library that a person has reviewed; None without any.

    References
    ----------
    Intervals: Wilson 1927, J. American Statistical Association 22; cluster bootstrap,
    Davison and Hinkley 1997, section 3.8.
    """
    held = set(library.pages(["page_id"])["page_id"].to_pylist())
    books, tables, orders = [], [], []
    panels = 0
    for page_id, log in corrected_pages(library).items():
        now = standing(log)
        if not now.reviewed or page_id not in held:
            continue
        truth, found = in_reading_order(now.record), in_reading_order(log.detections[-1].record)
        table = iou_table(truth, found)
        books.append(now.record.book)
        tables.append(table)
        panels += len(truth)
        if page_exact(table, 0.5):
            order = [m.found for m in match_panels(table, 0.5)]
            orders.append(order == sorted(order))
    if not tables:
        return None
    exact = [page_exact(table, 0.9) for table in tables]
    return Accuracy(
        len(tables),
        panels,
        {t: _f1(books, [counts_at(table, t) for table in tables]) for t in F1_AT},
        _share(exact),
        _share(orders),
    )


def _share(right: list[bool]) -> Share:
    hits, trials = sum(right), len(right)
    return Share(hits / trials if trials else float("nan"), *wilson_interval(hits, trials))


def _f1(books: list[str], counts: list[Counts]) -> Share:
    values = [(c.hits, c.extra, c.missed) for c in counts]
    total = sum(counts, Counts(0, 0, 0))
    # With few books there is nothing to draw from; pages then stand for books.
    groups: Sequence[Hashable] = list(books) if len(set(books)) >= 5 else list(range(len(books)))
    low, high = bootstrap_interval(groups, values, _f1_of)
    return Share(total.f1, low, high)


def _f1_of(sums: np.ndarray[Any, Any]) -> float:
    hits, extra, missed = (float(v) for v in sums)
    return Counts(int(hits), int(extra), int(missed)).f1
