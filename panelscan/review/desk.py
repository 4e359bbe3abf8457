"""The review page's verbs on one library: look, correct, propose, label, reuse, check."""

from __future__ import annotations

import getpass
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from panelscan.corpus.labels import Label, add_labels
from panelscan.corpus.store import Library
from panelscan.errors import ConflictError, UsageError
from panelscan.model.correction import Correction, SetOutline, SetPageFrame, SplitPanel, Undo
from panelscan.model.correction_kinds import correction_from_json
from panelscan.model.outline import Outline, Point
from panelscan.model.page import PageImage
from panelscan.review import reuse
from panelscan.review.looking import CatchingUp, LookingLibrary
from panelscan.review.page_data import page_data, ring, usual_gutter_px
from panelscan.review.pictures import (
    SourceOfPage,
    Sources,
    cache_of,
    kept_small,
    large_jpeg,
    load_pixels,
    make_small,
    quietly,
    small_folder_of,
)
from panelscan.review.progress import Pace, Progress
from panelscan.review.proposals import around, snapped
from panelscan.review.shelf_data import shelf_data

MOST_CHANGES = 400
MOST_LABELS = 40
SHELF_FOLDERS = ("pages", "panels", "labels", "links")
CUT_REACH_PX = 4.0
MOST_LETTERS = 2000


class Desk:
    """One library being reviewed.

    Parameters
    ----------
    library : Library
        The library.
    templates : Path
        Folder where templates go; the browser never names a path.
    who : str
        Name that corrections are signed with.

    Notes
    -----
    PDF pages may be decoded by one thread at a time (pdfium's rule), so pixels are loaded
    under a lock.

    What only looks (everything that the browser asks by GET) reads through ``looking``, which
    writes nothing to the library; what can be made anew (small pictures, the index of grids)
    is kept in the person's own cache, outside the library. The tables are brought up to the
    corrections by ``catching_up``, which only a change sets to work: looking waits for it,
    so that every change shows.
    """

    def __init__(self, library: Library, templates: Path, who: str = "") -> None:
        self.library = library
        self.templates = templates
        self.who = who or getpass.getuser()
        self.looking = LookingLibrary(library.place)
        self.catching_up = CatchingUp(library)
        self.small_folder = small_folder_of(library)
        self.index_folder = cache_of(library, "find")
        self.sources = Sources(self.looking)
        self.progress = Progress(self.looking, Pace())
        self._shelf: tuple[tuple[Any, ...], dict[str, Any]] | None = None
        self._edge_moved = False
        self._quiet = ThreadPoolExecutor(1, "small-pictures", quietly)
        self._decoding = threading.Lock()
        self._writing = threading.Lock()

    def shelf(
        self, where: str = "", written: str = "", label: tuple[str, str] = ("", "")
    ) -> dict[str, Any]:
        """Cards of pages, see `shelf_data`; the last answer while the library stays the same."""
        self.catching_up.wait()
        asked = (self._state(), where, written, label)
        if self._shelf is None or self._shelf[0] != asked:
            told = shelf_data(self.looking, self.index_folder, where, written, label)
            self.sources.read()
            self.progress.read()
            # By the state before reading: what changed meanwhile makes the next call read anew.
            self._shelf = asked, told
        return self._shelf[1]

    def _state(self) -> tuple[Any, ...]:
        """What tells whether anything in the library has changed."""
        place = self.library.place
        return tuple(tuple(sorted(place.names(folder).items())) for folder in SHELF_FOLDERS)

    def image(self, page_id: str) -> PageImage:
        """Pixels of a page."""
        source = self.sources.of(page_id)
        with self._decoding:
            return load_pixels(source)

    def small(self, page_id: str) -> bytes:
        """Small picture of a page, along its edge as it stands."""
        if self._edge_moved:
            self._edge_moved = False
            self.catching_up.wait()
            self.sources.read()
        source = self.sources.of(page_id)
        kept = kept_small(self.small_folder, page_id, source)
        return kept or self._quiet.submit(self._make_small, page_id, source).result()

    def _make_small(self, page_id: str, source: SourceOfPage) -> bytes:
        with self._decoding:
            return make_small(self.small_folder, page_id, source)

    def picture(self, page_id: str) -> bytes:
        """Picture of a page for looking at."""
        return large_jpeg(self.image(page_id))

    def page(self, page_id: str) -> dict[str, Any]:
        """A page as it stands."""
        told = page_data(self.looking, page_id, self.image(page_id), self._book(page_id))
        self.progress.pace.at_work()
        return told

    def _book(self, page_id: str) -> str:
        return self.sources.of(page_id).book

    def change(self, page_id: str, revision: int, told: list[Any]) -> dict[str, Any]:
        """Save corrections that belong together: all of them or none.

        Raises
        ------
        ConflictError
            If the page was corrected elsewhere meanwhile; nothing was changed then.
        UsageError
            If a correction is none, or makes no sense on the page; nothing was changed then.
        """
        self._save(page_id, revision, _corrections(told))
        return self._after(page_id)

    def cut(
        self, page_id: str, revision: int, panel: str, start: Point, end: Point
    ) -> dict[str, Any]:
        """Cut a panel in two along a line, each half moved onto the border beneath its side.

        Parameters
        ----------
        page_id, panel : str
            Which panel of which page.
        revision : int
            Revision that the person looked at.
        start, end : tuple of float
            Two points of the line, in source pixels.

        Raises
        ------
        ConflictError, UsageError
            As for `change`.
        """
        state = self.looking.page(page_id, self._book(page_id))
        gutter = usual_gutter_px(state.record, start, end)
        self._save(page_id, revision, [SplitPanel(panel, start, end, gutter)])
        halves = self._snapped_halves(page_id, revision + 1, gutter)
        if halves:
            # Part of the same action. Where another window was quicker, or a half cannot lie on
            # the borders that were found, the cut stands as drawn.
            with suppress(ConflictError, UsageError):
                self._save(page_id, revision + 1, halves, action=revision + 1)
        return self._after(page_id)

    def _snapped_halves(self, page_id: str, revision: int, gutter: float) -> list[Correction]:
        state = self.looking.page(page_id, self._book(page_id))
        image = self.image(page_id)
        reach = max(CUT_REACH_PX, 0.45 * gutter)
        found: list[Correction] = []
        for key, index in zip(state.keys, state.record.layout.order, strict=True):
            if key in (f"n{revision}a", f"n{revision}b"):
                rough = state.record.finding.panels[index].outline
                outline = snapped(image, rough, reach)
                if outline != rough:
                    found.append(SetOutline(key, outline))
        return found

    def _after(self, page_id: str) -> dict[str, Any]:
        page = self.page(page_id)
        self.progress.changed(page_id, page["reviewed"])
        return page

    def _save(
        self, page_id: str, revision: int, changes: list[Correction], action: int | None = None
    ) -> None:
        with self._writing:
            self.library.correct_together(
                page_id, changes, revision,
                who=self.who, book=self._book(page_id), settled=False, action=action,
            )
        self.catching_up.due()
        if any(isinstance(change, SetPageFrame | Undo) for change in changes):
            self._edge_moved = True

    def propose(self, page_id: str, x: float, y: float) -> dict[str, Any]:
        """Frame around a point, or None."""
        found = around(self.image(page_id), x, y)
        return {"ring": ring(found) if found else None}

    def snap(
        self, page_id: str, corners: list[Any], reach_px: float, sides: list[int] | None
    ) -> dict[str, Any]:
        """Outline on the borders beneath its sides, or beneath those named."""
        found = snapped(self.image(page_id), _outline(corners), reach_px, sides)
        return {"ring": ring(found)}

    def label(self, page_id: str, told: dict[str, Any]) -> dict[str, Any]:
        """Save labels of the page; an empty value takes one away."""
        self.sources.of(page_id)
        if len(told) > MOST_LABELS:
            raise UsageError("These are too many labels at once.")
        at = datetime.now(UTC).isoformat(timespec="milliseconds")
        labels = [
            Label(str(n), str(v)[:MOST_LETTERS] or None, page_id=page_id) for n, v in told.items()
        ]
        add_labels(self.library.place, labels, self.who, at)
        return self.page(page_id)

    def alike(self, page_id: str) -> dict[str, Any]:
        """Pages like this one."""
        self.catching_up.wait()
        return reuse.alike(self.looking, page_id, self.index_folder)

    def template(self, page_id: str, page_format: str, suffix: str) -> dict[str, Any]:
        """The page's grid as a template in the folder of templates."""
        with self._writing:
            return reuse.write_grid(
                self.library, page_id, self.templates, page_format, suffix, self.who
            )

    def check(self, page_id: str, page_format: str) -> dict[str, Any]:
        """A look before inking."""
        self.catching_up.wait()
        return reuse.looked_over(self.looking, page_id, page_format)


def _corrections(told: list[Any]) -> list[Correction]:
    if not isinstance(told, list) or not 0 < len(told) <= MOST_CHANGES:
        raise UsageError("There is nothing to change.", f"Send 1 to {MOST_CHANGES} changes.")
    try:
        return [correction_from_json(each) for each in told]
    except (KeyError, TypeError, ValueError) as cause:
        raise UsageError(f"This is no correction: {cause}.", "Load the page again.") from cause


def _outline(corners: list[Any]) -> Outline:
    try:
        # The ring as it is, so that sides keep their numbers.
        return Outline(tuple((float(x), float(y)) for x, y in corners))
    except (TypeError, ValueError) as cause:
        raise UsageError(f"This is no outline: {cause}.", "Draw it again.") from cause
