"""The same verbs as on the command line, as functions on plain types.

``import panelscan`` offers them at the top: ``panelscan.scan``, ``look_at``, ``open_library``,
``habits``, ``find``, ``plan``, ``template``, ``check`` and ``compare``.
"""

from __future__ import annotations

from collections.abc import Iterable
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from panelscan.checks.compare import Comparison
    from panelscan.checks.findings import CheckReport
    from panelscan.corpus.store import Library
    from panelscan.finder.hits import Hit
    from panelscan.finder.plan_types import Plan
    from panelscan.finder.query import Answer
    from panelscan.model.grid import Grid
    from panelscan.model.record import PageRecord
    from panelscan.pipeline.summary import ScanSummary
    from panelscan.study.habits import Habits
    from panelscan.templates.template import TemplateReport

AnyPath = str | PathLike[str]


def scan(paths: Iterable[AnyPath], library: AnyPath, **options: Any) -> ScanSummary:
    """Read pages, find and order their panels, save them in a library.

    Parameters
    ----------
    paths : iterable of path
        Folders, pictures, PDFs, archives.
    library : path
        The library's folder; made if it is not there.
    **options
        Fields of `panelscan.pipeline.options.ScanOptions`.
    """
    from panelscan.pipeline.options import ScanOptions
    from panelscan.pipeline.run import scan as scan_pages

    return scan_pages([Path(p) for p in paths], Path(library), ScanOptions(**options))


def look_at(path: AnyPath, page: int = 1, **options: Any) -> PageRecord:
    """Panels, order and measures of one page, without a library.

    Parameters
    ----------
    path : path
        A picture, or a PDF, TIFF or archive.
    page : int
        Which page of it, from 1.
    **options
        Fields of `panelscan.pipeline.options.ScanOptions`.
    """
    from panelscan.pipeline.options import ScanOptions
    from panelscan.pipeline.stages import look_at as look

    return look(path, page - 1, ScanOptions(**options))[0]


def open_library(folder: AnyPath) -> Library:
    """A library, for reading, correcting and labelling."""
    from panelscan.corpus.store import Library

    return Library.open(folder)


def habits(library: AnyPath, where: str | None = None) -> Habits:
    """Layout habits of the pages for which a filter holds.

    ``.table()`` has every figure as a pandas frame, ``.tables()`` what each plot shows.
    """
    from panelscan.study.habits import study
    from panelscan.study.library import shelf_of

    return study(shelf_of(Path(library), where))


def find(
    library: AnyPath, like: Grid | None = None, grid: str = "", where: str = "",
    count: int = 10, **requirements: Any,
) -> Answer:
    """Pages whose grids suit.

    Parameters
    ----------
    like : Grid or None
        An example.
    grid : str
        A written grid.
    where : str
        Filter.
    count : int
        How many.
    **requirements
        Fields of `panelscan.finder.brief.Brief`.
    """
    from panelscan.corpus.store import Library
    from panelscan.finder.brief import Brief
    from panelscan.finder.query import Query
    from panelscan.finder.search import search

    brief = Brief(**requirements)
    query = Query(like=like, written=grid, where=where, count=count, brief=brief)
    return search(Library.open(library), query)


def plan(scene: AnyPath, library: AnyPath, **options: Any) -> tuple[Plan, ...]:
    """Lay a scene file over pages; options are fields of `PlanOptions`."""
    from panelscan.corpus.store import Library
    from panelscan.finder.index import GridIndex
    from panelscan.finder.plan import plan_scene
    from panelscan.finder.plan_types import PlanOptions
    from panelscan.finder.scene import read_scene

    shelf = GridIndex.open(Library.open(library)).shelf()
    return plan_scene(read_scene(Path(scene)), shelf, PlanOptions(**options))


def template(
    grid: Grid | Hit | str, out: AnyPath, page_format: str = "us-print", clean: bool = True,
    library: AnyPath | None = None, **options: Any,
) -> TemplateReport:
    """Write a grid as a layered page.

    Parameters
    ----------
    grid : Grid, Hit or str
        A grid, a hit of `find`, or a written grid.
    out : path
        ``.svg``, ``.pdf``, ``.ora``, ``.tif`` or ``.png``.
    page_format : str
        Name of a page format.
    clean : bool
        Whether the grid is cleaned up first.
    library : path or None
        Notes that a hit's grid was taken, which moves it up a little in `find`.
    **options
        Fields of `panelscan.templates.options.TemplateOptions`.
    """
    from panelscan.errors import NothingFound
    from panelscan.finder.hits import Hit
    from panelscan.finder.ranking import note_choice
    from panelscan.layout.notation import parse_grid
    from panelscan.model.formats import format_named
    from panelscan.templates.options import TemplateOptions
    from panelscan.templates.regularize import regularize
    from panelscan.templates.template import write_template

    hit = grid if isinstance(grid, Hit) else None
    found = grid.grid if isinstance(grid, Hit) else grid
    if found is None:
        raise NothingFound("This hit carries no grid.", "Take a hit of `panelscan.find`.")
    drawn = parse_grid(found) if isinstance(found, str) else found
    page = format_named(page_format)
    if clean:
        drawn = regularize(drawn, page).grid
    report = write_template(drawn, page, Path(out), TemplateOptions(**options))
    if hit is not None and library is not None:
        note_choice(open_library(library), hit.page_id)
    return report


def check(page: PageRecord, page_format: str = "us-print") -> CheckReport:
    """Look a page over before inking."""
    from panelscan.checks.check import check_page
    from panelscan.checks.page import page_of_record
    from panelscan.model.formats import format_named

    return check_page(page_of_record(page, format_named(page_format)))


def compare(rough: PageRecord, final: PageRecord) -> Comparison:
    """What moved between two stages of a page."""
    from panelscan.checks.compare import compare_stages, stage_of_record

    return compare_stages(stage_of_record(rough), stage_of_record(final))
