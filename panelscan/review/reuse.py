"""From a page on: pages like it, its grid as a template, a look before inking."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pyarrow.compute as pc

from panelscan.corpus.query import load_grid_objects
from panelscan.corpus.storage import FolderPlace
from panelscan.corpus.store import Library
from panelscan.errors import NothingFound, OutputExistsError, UsageError
from panelscan.model.formats import BUILT_IN
from panelscan.model.grid import Grid
from panelscan.model.record import PageRecord

SUFFIXES = ("ora", "pdf", "svg", "tif", "png")
PAGES_AROUND = 3
MOST_LIKE = 12
MOST_NUMBERS = 10_000


def formats() -> list[list[str]]:
    """Page formats to choose from: name and title."""
    return [[name, page.title] for name, page in BUILT_IN.items()]


def alike(library: Library, page_id: str, index_folder: Path) -> dict[str, Any]:
    """Pages whose grids come nearest to a page's.

    Parameters
    ----------
    library : Library
        Where to look.
    page_id : str
        The example.
    index_folder : Path
        Where the index of grids is kept; made anew where it is missing or stale.

    Returns
    -------
    dict
        ``hits``: page id, name, what it is, reason; ``why_empty``: a sentence.

    Raises
    ------
    NothingFound
        If there is no such page.
    InputError
        If it has no panels.
    """
    from panelscan.finder.index import GridIndex
    from panelscan.finder.search import Query, search

    grid = library.page(page_id).record.grid
    query = Query(like=grid, count=MOST_LIKE, skip=(page_id,))
    answer = search(library, query, GridIndex.open(library, index_folder))
    return {
        "hits": [
            {"page_id": hit.page_id, "name": hit.name, "likeness": str(hit.likeness),
             "reason": " ".join(hit.reasons)}
            for hit in answer.hits
        ],
        "why_empty": answer.why_empty,
    }


def matching(library: Library, written: str, index_folder: Path) -> list[str]:
    """Ids of all pages that a written grid or pattern means.

    Parameters
    ----------
    library : Library
        Where to look.
    written : str
        E.g. ``two then any then one``; sizes that are not written are left open.
    index_folder : Path
        As for `alike`.

    Raises
    ------
    NotationError
        If the grid cannot be understood.
    """
    from panelscan.finder.by_grid import WrittenQuery, pattern_scores
    from panelscan.finder.index import GridIndex
    from panelscan.layout.grid_pattern import HOLDS, parse_pattern

    query = WrittenQuery(written, None, parse_pattern(written))
    index = GridIndex.open(library, index_folder)
    scores = pattern_scores(index, query)
    return [index.pages.id(int(k)) for k in (scores >= HOLDS).nonzero()[0]]


def write_grid(
    library: Library, page_id: str, folder: Path, page_format: str, suffix: str, who: str = ""
) -> dict[str, Any]:
    """Write a page's grid, cleaned up, into the folder of templates.

    Parameters
    ----------
    library : Library
        The library.
    page_id : str
        The page.
    folder : Path
        Chosen when the server was started; never by the browser.
    page_format : str
        Name of a built-in page format.
    suffix : str
        One of `SUFFIXES`.
    who : str
        The person, for the note that this grid was taken.

    Returns
    -------
    dict
        ``file``: name in the folder; ``folder``; ``moved``: what cleaning did; ``notes``, the
        last of them that the library notes the choice.

    Raises
    ------
    UsageError
        If format or suffix are unknown.
    NothingFound
        If the page has no panels.
    """
    from panelscan.finder.ranking import note_choice
    from panelscan.templates.options import TemplateOptions
    from panelscan.templates.regularize import regularize
    from panelscan.templates.template import write_template

    if page_format not in BUILT_IN or suffix not in SUFFIXES:
        raise UsageError("There is no such page format or kind of file.", "Choose from the list.")
    record = library.page(page_id).record
    if not record.grid.panels:
        raise NothingFound("There is no panel on this page.", "Add its panels first.")
    chosen = BUILT_IN[page_format]
    cleaned = regularize(record.grid, page_format=chosen)
    name = f"{record.book}, page {record.page_number}"
    options = TemplateOptions(title=name)
    folder.mkdir(parents=True, exist_ok=True)
    for path in _free_names(folder, record, suffix):
        try:
            report = write_template(cleaned.grid, chosen, path, options)
        except OutputExistsError:  # another window was quicker
            continue
        notes = [*report.notes, note_choice(library, page_id, who)]
        return {"file": path.name, "folder": str(folder.resolve()),
                "moved": [str(m) for m in cleaned.moves], "notes": notes}
    raise OutputExistsError(f"{folder}: is full of templates of this page.", "Clear some away.")


def _free_names(folder: Path, record: PageRecord, suffix: str) -> Any:
    """Names that are not taken yet, the plain one first; nothing but word characters in them."""
    book = re.sub(r"[^\w-]+", "-", record.book).strip("-")[:60] or "page"
    stem = f"{book}-{record.page_number:03d}"
    for number in range(1, MOST_NUMBERS):
        path = folder / f"{stem}{'' if number == 1 else f'-{number}'}.{suffix}"
        if not path.exists():
            yield path


def looked_over(library: Library, page_id: str, page_format: str) -> dict[str, Any]:
    """What a look before inking finds on a page, without what the artist has silenced.

    Parameters
    ----------
    library : Library
        The library.
    page_id : str
        The page.
    page_format : str
        Name of a built-in page format.

    Returns
    -------
    dict
        As the check's JSON; the panels of findings are named by their keys.

    Raises
    ------
    UsageError
        If there is no such format.
    """
    from panelscan.checks.check import check_page
    from panelscan.checks.page import page_of_record
    from panelscan.checks.report import report_data
    from panelscan.checks.silence import silenced_keys

    if page_format not in BUILT_IN:
        raise UsageError("There is no such page format.", "Choose from the list.")
    state = library.page(page_id)
    record, keys = state.record, state.keys
    place = library.place
    quiet = silenced_keys(place.root, page_id) if isinstance(place, FolderPlace) else frozenset()
    checked = page_of_record(record, BUILT_IN[page_format], around=_before(library, record))
    report = report_data(check_page(checked, silenced=quiet))
    for finding in report["findings"]:
        finding["panels"] = [keys[n - 1] for n in finding["panels"] if 0 < n <= len(keys)]
    return report


def _before(library: Library, record: PageRecord) -> list[Grid]:
    """Grids of the pages before this one in its book, the nearest last."""
    number = record.page_number
    near = (
        (pc.field("book") == record.book)
        & (pc.field("page_number") >= number - PAGES_AROUND)
        & (pc.field("page_number") < number)
    )
    rows = library.pages(columns=["page_id", "page_number"], where=near).to_pylist()
    rows.sort(key=lambda row: row["page_number"])
    return load_grid_objects(library, [row["page_id"] for row in rows])
