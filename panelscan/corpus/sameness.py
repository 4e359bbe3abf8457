"""The same page in another scan or another stage: found, linked, counted once.

What speaks for two pages being one: their pictures, shrunk to 24 by 16 grays, look alike,
and their panels lie in the same places. A grid alone says little, since an artist draws many
pages on the same one; and a rough looks little like its inks. So:

- *same scan*: the pictures agree closely (correlation at least 0.92) and the panels lie
  within 0.5 % of the page on average;
- *other stage*: the pages have the same number in different books, or their labels name
  different stages; the panels lie within 1.5 %; and either both of these hold, or the
  pictures agree roughly (0.7), or the pair stands alone: it has three panels or more, lies
  within 1 %, and no third page comes near that arrangement.

On 19 drawn pages, correlations of one page with a worn scan of it were 0.96 and more, of
different pages 0.77 and less, and of a page with its bare outlines 0.16 in the middle: that
is why a rough must be known by its panels. Thresholds are our own choice, no source.

A person has the last word: the label ``same-page`` with another page's id links two pages,
with ``none`` it keeps a page by itself.

Links lie in ``links/links.parquet`` and can be made anew at any time.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus.commit import Change, commit, recover
from panelscan.corpus.labels import PageLabels, labels_now
from panelscan.corpus.storage import explained
from panelscan.corpus.store import Library
from panelscan.corpus.tables import read_parquet, write_parquet
from panelscan.model.record import LOOK_COLUMNS, LOOK_ROWS

PATH = "links/links.parquet"
SCHEMA = pa.schema(
    [
        ("page_id", pa.string()),
        ("counted", pa.string()),
        ("kind", pa.string()),
        ("look", pa.float64()),
        ("distance_share", pa.float64()),
    ]
)
SAME_SCAN, OTHER_STAGE, BY_HAND = "same-scan", "other-stage", "by-hand"
SCAN_LOOK, STAGE_LOOK = 0.92, 0.70
SCAN_SHARE, STAGE_SHARE, LONE_SHARE = 0.005, 0.015, 0.01
MOST_BOOKS = 64
_STAGE_RANK = {"colour": 0, "inks": 1, "pencils": 2, "": 3, "rough": 4}
_CHUNK = 1024
MOST_COMPARED = 8192
SAMPLE = 200
Array = np.ndarray[Any, Any]


@dataclass(frozen=True)
class Link:
    """Two pages that are the same one.

    Parameters
    ----------
    page_a, page_b : str
        Their ids.
    kind : str
        ``same-scan``, ``other-stage`` or ``by-hand``.
    look : float
        Correlation of their pictures, NaN where one has none.
    distance_share : float
        Mean distance of their panels' box sides, in shares of the page.
    """

    page_a: str
    page_b: str
    kind: str
    look: float
    distance_share: float


@dataclass(frozen=True, eq=False)
class _Pages:
    """Pages of one tier pattern, in arrays."""

    ids: Array
    books: Array
    numbers: Array
    stages: Array
    boxes: Array
    looks: Array


def link_same_pages(library: Library) -> list[Link]:
    """Find pages that are the same one, and keep the links.

    Returns
    -------
    list of Link
        All links found, best first.
    """
    labels = labels_now(library.place)
    links = find_links(library, labels)
    rows = _counted(
        links, _ranks(library, labels, {i for k in links for i in (k.page_a, k.page_b)})
    )
    data = write_parquet(pa.Table.from_pylist(rows, schema=SCHEMA))
    with explained(library.place, "linking pages"), library.place.lock(60.0):
        recover(library.place)
        commit(library.place, Change({PATH: data}))
    return links


def links_of(library: Library) -> pa.Table:
    """Links kept; columns of ``SCHEMA``, one row for each page that is not counted itself."""
    try:
        return read_parquet(library.place.read(PATH)).cast(SCHEMA)
    except (FileNotFoundError, ValueError, pa.ArrowException):
        return SCHEMA.empty_table()


def counted_once(pages: pa.Table, links: pa.Table) -> pa.Table:
    """Pages without those that stand for one that is there already.

    Parameters
    ----------
    pages : pyarrow.Table
        With a column ``page_id``.
    links : pyarrow.Table
        From `links_of`.

    Returns
    -------
    pyarrow.Table
        With a column ``same_pages``: how many pages each row stands for.
    """
    count = pages.num_rows
    if not links.num_rows or not count:
        return pages.append_column("same_pages", pa.array(np.ones(count, dtype=np.int32)))
    ids = pages["page_id"]
    place = pc.index_in(ids, value_set=links["page_id"].combine_chunks())
    head = pc.coalesce(links["counted"].take(place), ids)
    codes = head.combine_chunks().dictionary_encode().indices.to_numpy(zero_copy_only=False)
    is_head = pc.equal(head, ids).to_numpy(zero_copy_only=False)
    order = np.lexsort((np.arange(count), ~is_head, codes))
    first = np.concatenate([[True], np.diff(codes[order]) != 0])
    kept = np.sort(order[first])
    sizes = np.bincount(codes)[codes[kept]].astype(np.int32)
    return pages.take(kept).append_column("same_pages", pa.array(sizes))


def find_links(library: Library, labels: PageLabels | None = None) -> list[Link]:
    """Pages that are the same one, best first; keeps nothing."""
    labels = labels_now(library.place) if labels is None else labels
    alone, by_hand = _told(labels)
    links = [Link(a, b, BY_HAND, float("nan"), float("nan")) for a, b in by_hand]
    for group in _groups(library, labels):
        found = _group_links(group)
        links += [k for k in found if k.page_a not in alone and k.page_b not in alone]
    return sorted(links, key=lambda k: (k.kind != BY_HAND, -np.nan_to_num(k.look), k.page_a))


def _told(labels: PageLabels) -> tuple[set[str], list[tuple[str, str]]]:
    """Pages that a person keeps by themselves, and pairs that a person links."""
    said = labels.by_page.get("same-page", {})
    alone = {page for page, value in said.items() if value == "none"}
    return alone, [(p, v) for p, v in said.items() if v and v != "none"]


def _groups(library: Library, labels: PageLabels) -> Iterable[_Pages]:
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


def _group(pages: pa.Table, members: Array, boxes: Array, starts: Array) -> _Pages:
    own = pages.take(members)
    count = int(starts[members[0] + 1] - starts[members[0]])
    spots = starts[members][:, None] + np.arange(count)[None, :]
    return _Pages(
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


def _group_links(group: _Pages) -> Iterable[Link]:
    """Links among pages of one tier pattern."""
    seen = np.flatnonzero(np.any(group.looks != 0, axis=1))
    around = _Surroundings(group.boxes)
    for a, b in sorted(_alike(group, seen) | _twin_pairs(group)):
        apart = float(np.abs(group.boxes[a] - group.boxes[b]).mean()) if group.boxes.size else 0.0
        if apart > STAGE_SHARE:
            continue
        link = _judged(group, a, b, apart, around)
        if link is not None:
            yield link


def _twin_pairs(group: _Pages) -> set[tuple[int, int]]:
    """Pages with the same number in different books; of very many books, only those near."""
    pairs = set()
    order = np.argsort(group.numbers, kind="stable")
    for part in np.split(order, np.flatnonzero(np.diff(group.numbers[order])) + 1):
        if len(part) <= MOST_BOOKS:
            near = [(int(a), int(b)) for k, a in enumerate(part) for b in part[k + 1 :]]
        else:
            reach = STAGE_SHARE * group.boxes.shape[1]
            own = group.boxes[part]
            _, places = _tree(own).query(own, k=3, p=1, distance_upper_bound=reach)
            near = [
                (int(part[k]), int(part[j]))
                for k, row in enumerate(places)
                for j in row
                if k < j < len(part)
            ]
        pairs |= {(min(p), max(p)) for p in near if group.books[p[0]] != group.books[p[1]]}
    return pairs


def _alike(group: _Pages, seen: Array) -> set[tuple[int, int]]:
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


def _alike_among(group: _Pages, members: Array) -> set[tuple[int, int]]:
    looks = group.looks[members]
    pairs = set()
    for start in range(0, len(members), _CHUNK):
        alike = looks[start : start + _CHUNK] @ looks.T
        for i, j in np.argwhere(alike >= STAGE_LOOK):
            if start + i < j:
                pairs.add((int(members[start + i]), int(members[j])))
    return pairs


def _nearest(group: _Pages, seen: Array) -> set[tuple[int, int]]:
    rng = np.random.default_rng(0)
    axes = np.linalg.qr(rng.normal(size=(group.looks.shape[1], 12)))[0].astype(np.float32)
    flat = group.looks[seen] @ axes
    # Pictures with correlation r lie sqrt(2 - 2 r) apart, and no further in a projection.
    reach = float(np.sqrt(2 - 2 * SCAN_LOOK))
    _, near = _tree(flat).query(flat, k=4, distance_upper_bound=reach)
    pairs = set()
    for k, others in enumerate(near):
        for other in others:
            if k < other < len(seen):
                pairs.add((int(seen[k]), int(seen[other])))
    return pairs


def _tree(points: Array) -> Any:
    """A k-d tree; the import takes long, so only who links pages waits for it."""
    from scipy.spatial import cKDTree

    return cKDTree(points)


def _judged(group: _Pages, a: int, b: int, apart: float, around: _Surroundings) -> Link | None:
    seen = bool(np.any(group.looks[a]) and np.any(group.looks[b]))
    look = float(group.looks[a] @ group.looks[b]) if seen else float("nan")
    differ, twins = _stages_differ(group, a, b), _twins(group, a, b)
    if seen and look >= SCAN_LOOK and apart <= SCAN_SHARE:
        kind = OTHER_STAGE if differ else SAME_SCAN
    elif (differ and twins) or (
        (differ or twins) and ((seen and look >= STAGE_LOOK) or around.is_alone(a, b, apart))
    ):
        kind = OTHER_STAGE
    else:
        return None
    return Link(str(group.ids[a]), str(group.ids[b]), kind, look, apart)


class _Surroundings:
    """How near other pages of a group come to an arrangement of panels.

    Parameters
    ----------
    boxes : ndarray, shape (N, 4 P)
        Sides of the panels' boxes of each page.
    """

    def __init__(self, boxes: Array) -> None:
        self.boxes = boxes

    def is_alone(self, a: int, b: int, apart: float) -> bool:
        """Whether no third page comes near the arrangement that two pages share."""
        numbers = self.boxes.shape[1]
        if numbers < 12 or apart > LONE_SHARE:
            return False
        for page in (a, b):
            if (self._sampled[page] & ~np.isin(self._sample, (a, b))).any():
                return False
        room = max(3 * apart, LONE_SHARE) * numbers
        _, near = self._whole.query(self.boxes[[a, b]], k=3, p=1, distance_upper_bound=room)
        return {int(k) for k in near.ravel() if k < len(self.boxes)} <= {a, b}

    @cached_property
    def _whole(self) -> Any:
        return _tree(self.boxes)

    @cached_property
    def _sample(self) -> Array:
        """A few hundred pages: whatever is common is near one of them."""
        count = min(len(self.boxes), SAMPLE)
        return np.random.default_rng(0).choice(len(self.boxes), count, replace=False)

    @cached_property
    def _sampled(self) -> Array:
        """Whether each page is near each page of the sample, shape (N, S)."""
        from scipy.spatial.distance import cdist

        apart = cdist(self.boxes, self.boxes[self._sample], "cityblock")
        return np.asarray(apart <= LONE_SHARE * self.boxes.shape[1])


def _stages_differ(group: _Pages, a: int, b: int) -> bool:
    one, other = group.stages[a], group.stages[b]
    return bool(one and other and one != other)


def _twins(group: _Pages, a: int, b: int) -> bool:
    """Whether two pages have the same number in different books."""
    return bool(group.books[a] != group.books[b] and group.numbers[a] == group.numbers[b])


def _ranks(
    library: Library, labels: PageLabels, linked: set[str]
) -> dict[str, tuple[int, int, str, str]]:
    """What a page is preferred by: stage, review, newest scan, id."""
    ids = pa.array(sorted(linked), pa.string())
    columns = library.pages(
        ["page_id", "book", "reviewed", "scanned_at"], pc.field("page_id").isin(ids)
    )
    stages = pc.fill_null(labels.column("stage", columns["page_id"], columns["book"]), "")
    ranks = {}
    for page, reviewed, at, stage in zip(
        columns["page_id"].to_pylist(),
        columns["reviewed"].to_pylist(),
        columns["scanned_at"].to_pylist(),
        stages.to_pylist(),
        strict=True,
    ):
        newest = "".join(chr(0x7F - min(ord(c), 0x7E)) for c in at or "")
        ranks[page] = (_STAGE_RANK.get(stage, 3), 0 if reviewed else 1, newest, page)
    return ranks


def _counted(
    links: Sequence[Link], ranks: dict[str, tuple[int, int, str, str]]
) -> list[dict[str, Any]]:
    """Rows of the links table: each page of a group beside the one that is counted."""
    head: dict[str, str] = {}

    def top(page: str) -> str:
        while head.get(page, page) != page:
            page = head[page]
        return page

    best: dict[str, Link] = {}
    for link in links:
        if link.page_a not in ranks or link.page_b not in ranks:
            continue
        first, second = sorted((top(link.page_a), top(link.page_b)), key=ranks.__getitem__)
        head[second] = first
        for page in (link.page_a, link.page_b):
            best.setdefault(page, link)
    return [
        {
            "page_id": page,
            "counted": top(page),
            "kind": link.kind,
            "look": link.look,
            "distance_share": link.distance_share,
        }
        for page, link in sorted(best.items())
        if top(page) != page
    ]
