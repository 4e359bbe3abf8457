"""What a library holds, at a glance: counts, doubtful pages, versions, space."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus import labels as labels_file
from panelscan.corpus import view as views
from panelscan.corpus.amend import UNSETTLED
from panelscan.corpus.commit import pending_changes
from panelscan.corpus.corrections import FOLDER as CORRECTIONS
from panelscan.corpus.page_links import links_of
from panelscan.corpus.schema import SCHEMA_VERSION, TABLES
from panelscan.corpus.storage import WORK, Place
from panelscan.corpus.store import Library
from panelscan.model.direction import source_in

DOUBTFUL_BELOW = 0.8
MANY_FILES = 200


@dataclass(frozen=True)
class DoubtfulPage:
    """A page that a person should look at."""

    page_id: str
    book: str
    page_number: int
    source_path: str
    confidence: float


@dataclass(frozen=True)
class Summary:
    """What a library holds.

    Parameters
    ----------
    schema_version : int
        Of the library.
    books, pages, panels, gutters : int
        Counts.
    same_pages : int
        Pages that are another scan or stage of one that is counted.
    doubtful_count : int
        Pages below the confidence asked for that nobody has reviewed.
    doubtful : tuple of DoubtfulPage
        The most doubtful of them.
    reviewed, corrected : int
        Pages called fine by a person, and pages with corrections.
    without_resolution : int
        Pages whose lengths in millimetres are unknown.
    detectors : mapping of str to int
        Pages by what found their panels.
    directions : mapping of str to int
        Pages by reading direction.
    directions_known : mapping of str to int
        Pages by how their reading direction is known, in words.
    bytes_by_folder : mapping of str to int
        Space on the disk.
    files : int
        Parquet files of the three tables.
    labels : int
        Labels ever given.
    unfinished : int
        Changes that a killed writer left to be finished.
    """

    schema_version: int
    books: int
    pages: int
    panels: int
    gutters: int
    same_pages: int
    doubtful_count: int
    doubtful: tuple[DoubtfulPage, ...]
    reviewed: int
    corrected: int
    without_resolution: int
    detectors: Mapping[str, int]
    directions: Mapping[str, int]
    directions_known: Mapping[str, int]
    bytes_by_folder: Mapping[str, int]
    files: int
    labels: int
    unfinished: int

    @property
    def bytes(self) -> int:
        """Space that the library takes."""
        return sum(self.bytes_by_folder.values())

    @property
    def advice(self) -> tuple[str, ...]:
        """What would do the library good, one sentence each."""
        told = []
        if self.doubtful_count:
            count = self.doubtful_count
            pages = "1 page is" if count == 1 else f"{count} pages are"
            told.append(f"{pages} doubtful: `panelscan review`.")
        if self.without_resolution:
            count = self.without_resolution
            pages = "1 page has" if count == 1 else f"{count} pages have"
            told.append(
                f"{pages} no resolution, so no lengths in mm:"
                " scan again with --dpi or --page-format."
            )
        if self.files > 3 * MANY_FILES:
            told.append("Many small files: `panelscan info --compact` puts them together.")
        if self.unfinished:
            told.append("A writer was killed; the next scan finishes what it had saved.")
        return tuple(told)


def summarise(
    library: Library, *, doubtful_below: float = DOUBTFUL_BELOW, most: int = 20
) -> Summary:
    """What a library holds.

    Parameters
    ----------
    library : Library
        The library.
    doubtful_below : float
        Confidence under which a page that nobody reviewed is doubtful.
    most : int
        How many doubtful pages to name.

    Notes
    -----
    Reads row counts from the files' ends and a few short columns of the pages, so it stays
    fast for a million pages.
    """

    def read(view: views.View) -> tuple[pa.Table, int, pa.Table, dict[str, int], int]:
        facts = views.read_table(library.place, view, "pages", list(_FACTS))
        count, limit = _doubtful(facts, doubtful_below, most)
        # Only the few most doubtful are read whole: most row groups are passed over.
        worst = (pc.field("confidence") <= limit) & ~pc.field("reviewed")
        named = list(DoubtfulPage.__dataclass_fields__)
        asked = views.read_table(library.place, view, "pages", named, worst)
        counts = {t: views.count_rows(library.place, view, t) for t in ("panels", "gutters")}
        files = sum(len(names) for names in view.files.values())
        return facts, count, asked, counts, files

    facts, doubtful_count, asked, counts, files = library.reading(tuple(TABLES), read)
    lowest = asked.sort_by("confidence").slice(0, most if doubtful_count else 0).to_pylist()
    return Summary(
        schema_version=SCHEMA_VERSION,
        books=len(pc.unique(facts["book"])),
        pages=facts.num_rows,
        panels=counts["panels"],
        gutters=counts["gutters"],
        same_pages=links_of(library).num_rows,
        doubtful_count=doubtful_count,
        doubtful=tuple(DoubtfulPage(**row) for row in lowest),
        reviewed=pc.sum(facts["reviewed"]).as_py() or 0,
        corrected=pc.sum(pc.greater(facts["revision"], 0)).as_py() or 0,
        without_resolution=facts["x_ppi"].null_count,
        detectors=_counted(facts["detector"]),
        directions=_counted(facts["direction"]),
        directions_known=_counted_sources(facts["notes"]),
        bytes_by_folder=_space(library.place),
        files=files,
        labels=labels_file.all_labels(library.place).num_rows,
        unfinished=len(pending_changes(library.place)),
    )


_FACTS = ("book", "reviewed", "revision", "x_ppi", "detector", "direction", "confidence", "notes")


def _doubtful(facts: pa.Table, below: float, most: int) -> tuple[int, float]:
    """How many pages are doubtful, and the confidence that the most doubtful do not exceed."""
    unsure = facts["confidence"].filter(pc.invert(facts["reviewed"])).to_numpy()
    unsure = unsure[unsure < below]
    if not len(unsure) or most < 1:
        return len(unsure), -1.0
    last = min(most, len(unsure)) - 1
    return len(unsure), float(np.partition(unsure, last)[last])


def _counted(column: Any) -> dict[str, int]:
    counts = pc.value_counts(column).to_pylist()
    ordered = sorted(counts, key=lambda c: -int(c["counts"]))
    return {str(c["values"] or ""): int(c["counts"]) for c in ordered}


def _counted_sources(notes: Any) -> dict[str, int]:
    """How often each way of knowing a page's direction is noted."""
    counts = _counted(pc.list_flatten(notes))
    sources = {note: source_in([note]) for note in counts}
    return {source.words: counts[note] for note, source in sources.items() if source}


def _space(place: Place) -> dict[str, int]:
    folders = ("", *TABLES, CORRECTIONS, labels_file.FOLDER, "links", UNSETTLED, WORK)
    return {
        folder or "library": sum(mark.size for mark in place.names(folder).values())
        for folder in folders
    }
