"""A library, or a part of it, for other programs: which forms there are, and writing them.

Forms: ``geoparquet`` (one file of panels with their pages' columns), ``csv`` (pages, panels
and gutters), ``coco`` (one JSON file of instances), ``page-xml`` (a file for each page) and
``svg`` (a file for each page). Each writer makes text or bytes; this module alone puts files
on the disk, aside first and then in their place, and never over a file unless asked.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa

from panelscan.corpus.export_coco import coco_json
from panelscan.corpus.export_pages import page_name, page_svg, page_xml
from panelscan.corpus.export_tables import csv_files, single_geoparquet
from panelscan.corpus.labels import PageLabels
from panelscan.corpus.page_links import counted_once, links_of
from panelscan.corpus.select import select_rows, with_labels
from panelscan.corpus.store import Library
from panelscan.errors import NothingFound, OutputExistsError, UsageError

FORMS = ("geoparquet", "csv", "coco", "page-xml", "svg")


@dataclass(frozen=True)
class Chosen:
    """What is exported: pages and the panels and gutters on them.

    Parameters
    ----------
    pages, panels, gutters : pyarrow.Table
        All columns of the library; ``pages`` in book and page order, with a column
        ``label:NAME`` for each label.
    labels : PageLabels
        Labels that count.
    """

    pages: pa.Table
    panels: pa.Table
    gutters: pa.Table
    labels: PageLabels


def choose(library: Library, where: str | None = None, *, duplicates: bool = True) -> Chosen:
    """Rows to export.

    Parameters
    ----------
    library : Library
        The library.
    where : str or None
        Filter of pages, all for None.
    duplicates : bool
        False to leave out pages that are another scan or stage of one that is there.

    Raises
    ------
    NothingFound
        If no page is left.
    NotationError
        If the filter cannot be understood.
    """
    everything = None
    panels = select_rows(library, "panels", where, everything, _page_columns())
    gutters = select_rows(library, "gutters", where, everything)
    pages = panels.pages
    if not duplicates:
        pages = counted_once(pages, links_of(library)).drop_columns(["same_pages"])
    if not pages.num_rows:
        raise NothingFound("There is no page to export.", "Scan some, or widen the filter.")
    names = frozenset(panels.labels.names)
    pages = with_labels(pages, names, panels.labels)
    order = [(n, "ascending") for n in ("book", "page_number", "page_id")]
    return Chosen(pages.sort_by(order), panels.rows, gutters.rows, panels.labels)


def _page_columns() -> list[str]:
    from panelscan.corpus.schema import PAGES

    return [c.name for c in PAGES]


def export(
    library: Library,
    form: str,
    out: str | os.PathLike[str],
    *,
    where: str | None = None,
    duplicates: bool = True,
    overwrite: bool = False,
    progress: Callable[[int], None] | None = None,
) -> list[Path]:
    """Write a library, or a part of it, in another form.

    Parameters
    ----------
    library : Library
        The library.
    form : str
        One of ``FORMS``.
    out : path
        File for ``geoparquet`` and ``coco``, folder for the others.
    where : str or None
        Filter of pages, all for None.
    duplicates : bool
        False to leave out pages that are another scan or stage of one that is there.
    overwrite : bool
        Whether files that are there may be replaced.
    progress : callable or None
        Told after each file how many there are so far.

    Returns
    -------
    list of Path
        Files written.

    Raises
    ------
    UsageError
        If there is no such form.
    OutputExistsError
        If a file is there already; nothing is then written.
    NothingFound
        If no page is left.
    """
    if form not in FORMS:
        raise UsageError(f"There is no form {form!r}.", f"Choose {', '.join(FORMS)}.")
    chosen = choose(library, where, duplicates=duplicates)
    target = Path(out)
    files = list(_named(form, chosen, target))
    taken = [path for path, _ in files if path.exists()]
    if taken and not overwrite:
        raise OutputExistsError(
            f"{taken[0]} is there already.", "Choose another name, or allow overwriting."
        )
    written = []
    for path, make in files:
        _put(path, make())
        written.append(path)
        if progress is not None:
            progress(len(written))
    return written


def _named(form: str, chosen: Chosen, out: Path) -> Iterator[tuple[Path, Callable[[], bytes]]]:
    """Paths of an export, each with what makes its contents."""
    if form == "geoparquet":
        yield out, lambda: single_geoparquet(chosen.pages, chosen.panels)
    elif form == "coco":
        yield out, lambda: coco_json(chosen.pages, chosen.panels)
    elif form == "csv":
        for name, make in csv_files(chosen.pages, chosen.panels, chosen.gutters):
            yield out / name, make
    else:
        yield from _per_page(form, chosen, out)


def _per_page(form: str, chosen: Chosen, out: Path) -> Iterator[tuple[Path, Callable[[], bytes]]]:
    ending, write = ("xml", page_xml) if form == "page-xml" else ("svg", page_svg)
    panels: dict[str, list[dict[str, object]]] = {}
    for row in chosen.panels.to_pylist():
        panels.setdefault(row["page_id"], []).append(row)
    names: set[str] = set()
    for page in chosen.pages.to_pylist():
        name = page_name(page, names)
        names.add(name)
        own = sorted(panels.get(page["page_id"], []), key=_reading_order)
        yield out / f"{name}.{ending}", lambda p=page, o=own: write(p, o)  # type: ignore[misc]


def _reading_order(row: dict[str, object]) -> int:
    return int(str(row["reading_order"]))


def _put(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    aside = path.with_name(f".{path.name}.{uuid.uuid4().hex[:8]}")
    try:
        with aside.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        aside.replace(path)
    finally:
        aside.unlink(missing_ok=True)
