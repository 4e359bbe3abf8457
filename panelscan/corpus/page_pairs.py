"""Pages that may be the same one: grouped by tier pattern, paired by number and by look."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus.labels import PageLabels
from panelscan.model.record import LOOK_COLUMNS, LOOK_ROWS

if TYPE_CHECKING:
    from panelscan.corpus.store import Library

SCAN_LOOK, STAGE_LOOK = 0.92, 0.70
STAGE_SHARE = 0.015
MOST_BOOKS = 64
MOST_COMPARED = 8192
_CHUNK = 1024
Array = np.ndarray[Any, Any]


@dataclass(frozen=True, eq=False)
class PageGroup:
    """Pages of one tier pattern, in arrays."""

    ids: Array
    books: Array
    numbers: Array
    stages: Array
    boxes: Array
    looks: Array


def page_groups(library: Library, labels: PageLabels) -> Iterable[PageGroup]:
    """Groups of two pages or more with the same tier pattern and number of panels."""
    shares = ["x_min_share", "y_min_share", "x_max_share", "y_max_share"]
    tables = library.tables(
        {
            "pages": ["page_id", "book", "page_number", "tier_pattern", "panel_count", "look"],
            "panels": ["page_id", *shares],
        }
    )
    pages, panels = tables["pages"], tables["panels"]
    pages = pages.append_column(
        "stage", pc.fill_null(labels.column("stage", pages["page_id"], pages["book"]), "")
    )
    owner = pc.index_in(panels["page_id"], value_set=pages["page_id"].combine_chunks())
    rows = np.argsort(owner.to_numpy(zero_copy_only=False), kind="stable")
    boxes = np.column_stack([panels[n].to_numpy() for n in shares])[rows].astype(np.float32)
    counts = pages["panel_count"].to_numpy()
    starts = np.concatenate([[0], np.cumsum(counts)])
    patterns = pages["tier_pattern"].combine_chunks().dictionary_encode().indices
    codes = pc.fill_null(patterns, -1).to_numpy(zero_copy_only=False) * 1000 + counts
    for code in np.unique(codes):
        members = np.flatnonzero(codes == code)
        if len(members) > 1:
            yield _group(pages, members, boxes, starts)


def _group(pages: pa.Table, members: Array, boxes: Array, starts: Array) -> PageGroup:
    own = pages.take(members)
    count = int(starts[members[0] + 1] - starts[members[0]])
    spots = starts[members][:, None] + np.arange(count)[None, :]
    return PageGroup(
        ids=own["page_id"].to_numpy(),
        books=own["book"].to_numpy(),
        numbers=own["page_number"].to_numpy(),
        stages=own["stage"].to_numpy(),
        boxes=boxes[spots].reshape(len(members), count * 4),
        looks=np.stack([_standard(look) for look in own["look"].to_pylist()]),
    )


def _standard(look: bytes | None) -> Array:
    """A picture with mean 0 and length 1; zeros where there is none or it is all one tone."""
    size = LOOK_ROWS * LOOK_COLUMNS
    if not look or len(look) != size:
        return np.zeros(size, dtype=np.float32)
    values = np.frombuffer(look, dtype=np.uint8).astype(np.float32)
    values = values - values.mean()
    length = float(np.linalg.norm(values))
    return values / length if length > 1e-3 else np.zeros(size, dtype=np.float32)


def likely_pairs(group: PageGroup) -> list[tuple[int, int]]:
    """Pairs of places in the group that are worth a closer look, sorted."""
    seen = np.flatnonzero(np.any(group.looks != 0, axis=1))
    return sorted(_alike(group, seen) | _twin_pairs(group))


def _twin_pairs(group: PageGroup) -> set[tuple[int, int]]:
    """Pages with the same number in different books; of very many books, only those near."""
    pairs = set()
    order = np.argsort(group.numbers, kind="stable")
    for part in np.split(order, np.flatnonzero(np.diff(group.numbers[order])) + 1):
        if len(part) <= MOST_BOOKS:
            near = [(int(a), int(b)) for k, a in enumerate(part) for b in part[k + 1 :]]
        else:
            reach = STAGE_SHARE * group.boxes.shape[1]
            own = group.boxes[part]
            _, places = tree(own).query(own, k=3, p=1, distance_upper_bound=reach)
            near = [
                (int(part[k]), int(part[j]))
                for k, row in enumerate(places)
                for j in row
                if k < j < len(part)
            ]
        pairs |= {(min(p), max(p)) for p in near if group.books[p[0]] != group.books[p[1]]}
    return pairs


def _alike(group: PageGroup, seen: Array) -> set[tuple[int, int]]:
    """Pairs of pages whose pictures are alike enough for a closer look.

    Notes
    -----
    Few pages are compared each with each. Of very many, those with the same number are, and
    besides each page with its nearest few in a projection of the pictures; a rough that has
    another number than its inks is then missed.
    """
    if len(seen) <= MOST_COMPARED:
        return _alike_among(group, seen)
    pairs: set[tuple[int, int]] = set()
    numbers = group.numbers[seen]
    order = np.argsort(numbers, kind="stable")
    for part in np.split(order, np.flatnonzero(np.diff(numbers[order])) + 1):
        pairs |= _alike_among(group, seen[part])
    return pairs | _nearest(group, seen)


def _alike_among(group: PageGroup, members: Array) -> set[tuple[int, int]]:
    looks = group.looks[members]
    pairs = set()
    for start in range(0, len(members), _CHUNK):
        alike = looks[start : start + _CHUNK] @ looks.T
        for i, j in np.argwhere(alike >= STAGE_LOOK):
            if start + i < j:
                pairs.add((int(members[start + i]), int(members[j])))
    return pairs


def _nearest(group: PageGroup, seen: Array) -> set[tuple[int, int]]:
    rng = np.random.default_rng(0)
    axes = np.linalg.qr(rng.normal(size=(group.looks.shape[1], 12)))[0].astype(np.float32)
    flat = group.looks[seen] @ axes
    # Pictures with correlation r lie sqrt(2 - 2 r) apart, and no further in a projection.
    reach = float(np.sqrt(2 - 2 * SCAN_LOOK))
    _, near = tree(flat).query(flat, k=4, distance_upper_bound=reach)
    pairs = set()
    for k, others in enumerate(near):
        for other in others:
            if k < other < len(seen):
                pairs.add((int(seen[k]), int(seen[other])))
    return pairs


def tree(points: Array) -> Any:
    """A k-d tree; the import takes long, so only who links pages waits for it."""
    from scipy.spatial import cKDTree

    return cKDTree(points)
