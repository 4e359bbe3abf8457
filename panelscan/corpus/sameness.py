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

from collections.abc import Iterable
from functools import cached_property
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus.commit import Change, commit, recover
from panelscan.corpus.labels import PageLabels, labels_now
from panelscan.corpus.page_links import (
    BY_HAND,
    OTHER_STAGE,
    PATH,
    SAME_SCAN,
    SCHEMA,
    Link,
    Rank,
    counted_rows,
)
from panelscan.corpus.page_pairs import (
    SCAN_LOOK,
    STAGE_LOOK,
    STAGE_SHARE,
    Array,
    PageGroup,
    likely_pairs,
    page_groups,
    tree,
)
from panelscan.corpus.storage import explained
from panelscan.corpus.store import Library
from panelscan.corpus.tables import write_parquet

__all__ = [
    "BY_HAND",
    "OTHER_STAGE",
    "SAME_SCAN",
    "Link",
    "find_links",
    "link_same_pages",
]

SCAN_SHARE, LONE_SHARE = 0.005, 0.01
_STAGE_RANK = {"colour": 0, "inks": 1, "pencils": 2, "": 3, "rough": 4}
SAMPLE = 200


def link_same_pages(library: Library) -> list[Link]:
    """Find pages that are the same one, and keep the links.

    Returns
    -------
    list of Link
        All links found, best first.
    """
    labels = labels_now(library.place)
    links = find_links(library, labels)
    rows = counted_rows(
        links, _ranks(library, labels, {i for k in links for i in (k.page_a, k.page_b)})
    )
    data = write_parquet(pa.Table.from_pylist(rows, schema=SCHEMA))
    with explained(library.place, "linking pages"), library.place.lock(60.0):
        recover(library.place)
        commit(library.place, Change({PATH: data}))
    return links


def find_links(library: Library, labels: PageLabels | None = None) -> list[Link]:
    """Pages that are the same one, best first; keeps nothing."""
    labels = labels_now(library.place) if labels is None else labels
    alone, by_hand = _told(labels)
    links = [Link(a, b, BY_HAND, float("nan"), float("nan")) for a, b in by_hand]
    for group in page_groups(library, labels):
        found = _group_links(group)
        links += [k for k in found if k.page_a not in alone and k.page_b not in alone]
    return sorted(links, key=lambda k: (k.kind != BY_HAND, -np.nan_to_num(k.look), k.page_a))


def _told(labels: PageLabels) -> tuple[set[str], list[tuple[str, str]]]:
    """Pages that a person keeps by themselves, and pairs that a person links."""
    said = labels.by_page.get("same-page", {})
    alone = {page for page, value in said.items() if value == "none"}
    return alone, [(p, v) for p, v in said.items() if v and v != "none"]


def _group_links(group: PageGroup) -> Iterable[Link]:
    """Links among pages of one tier pattern."""
    around = _Surroundings(group.boxes)
    for a, b in likely_pairs(group):
        apart = float(np.abs(group.boxes[a] - group.boxes[b]).mean()) if group.boxes.size else 0.0
        if apart > STAGE_SHARE:
            continue
        link = _judged(group, a, b, apart, around)
        if link is not None:
            yield link


def _judged(group: PageGroup, a: int, b: int, apart: float, around: _Surroundings) -> Link | None:
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
        return tree(self.boxes)

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


def _stages_differ(group: PageGroup, a: int, b: int) -> bool:
    one, other = group.stages[a], group.stages[b]
    return bool(one and other and one != other)


def _twins(group: PageGroup, a: int, b: int) -> bool:
    """Whether two pages have the same number in different books."""
    return bool(group.books[a] != group.books[b] and group.numbers[a] == group.numbers[b])


def _ranks(library: Library, labels: PageLabels, linked: set[str]) -> dict[str, Rank]:
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
