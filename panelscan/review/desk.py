"""The review page's verbs on one library: look, correct, propose, label, reuse, check."""

from __future__ import annotations

import getpass
import threading
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from panelscan.corpus.labels import Label, add_labels
from panelscan.corpus.record_json import correction_from_json
from panelscan.corpus.store import Library
from panelscan.errors import UsageError
from panelscan.model.correction import Correction
from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.review.page_data import page_data, ring
from panelscan.review.pictures import (
    large_jpeg,
    load_pixels,
    small_folder_of,
    small_jpeg,
    source_of,
)
from panelscan.review.proposals import around, snapped
from panelscan.review.shelf_data import shelf_data

MOST_CHANGES = 64


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
    """

    def __init__(self, library: Library, templates: Path, who: str = "") -> None:
        self.library = library
        self.templates = templates
        self.who = who or getpass.getuser()
        self.small_folder = small_folder_of(library)
        self._decoding = threading.Lock()
        self._writing = threading.Lock()

    def shelf(self, where: str | None) -> dict[str, Any]:
        """Cards of all pages, see `shelf_data`."""
        self.library.settle()
        return shelf_data(self.library, where or None)

    def image(self, page_id: str) -> PageImage:
        """Pixels of a page."""
        source = source_of(self.library, page_id)
        with self._decoding:
            return load_pixels(source)

    def small(self, page_id: str) -> bytes:
        """Small picture of a page."""
        source = source_of(self.library, page_id)
        with self._decoding:
            return small_jpeg(self.small_folder, page_id, source)

    def picture(self, page_id: str) -> bytes:
        """Picture of a page for looking at."""
        source = source_of(self.library, page_id)
        with self._decoding:
            return large_jpeg(source)

    def page(self, page_id: str) -> dict[str, Any]:
        """A page as it stands."""
        return page_data(self.library, page_id, self.image(page_id))

    def change(self, page_id: str, revision: int, told: list[Any]) -> dict[str, Any]:
        """Save corrections one after the other; all were checked to be corrections before.

        Raises
        ------
        ConflictError
            If the page was corrected elsewhere meanwhile; nothing was changed then.
        UsageError
            If a correction is none, or makes no sense on the page.
        """
        changes = _corrections(told)
        with self._writing:
            for change in changes:
                revision = self.library.correct(
                    page_id, change, revision, who=self.who, settled=False
                )
        return self.page(page_id)

    def propose(self, page_id: str, x: float, y: float) -> dict[str, Any]:
        """Frame around a point, or None."""
        found = around(self.image(page_id), x, y)
        return {"ring": ring(found) if found else None}

    def snap(self, page_id: str, corners: list[Any], reach_px: float) -> dict[str, Any]:
        """Outline on the borders beneath it."""
        found = snapped(self.image(page_id), _outline(corners), reach_px)
        return {"ring": ring(found)}

    def label(self, page_id: str, told: dict[str, Any]) -> dict[str, Any]:
        """Save labels of the page; an empty value takes one away."""
        at = datetime.now(UTC).isoformat(timespec="milliseconds")
        labels = [Label(str(n), str(v) or None, page_id=page_id) for n, v in told.items()]
        add_labels(self.library.place, labels, self.who, at)
        return self.page(page_id)


def _corrections(told: list[Any]) -> list[Correction]:
    if not isinstance(told, list) or not 0 < len(told) <= MOST_CHANGES:
        raise UsageError("There is nothing to change.", f"Send 1 to {MOST_CHANGES} changes.")
    try:
        return [correction_from_json(each) for each in told]
    except (KeyError, TypeError, ValueError) as cause:
        raise UsageError(f"This is no correction: {cause}.", "Load the page again.") from cause


def _outline(corners: list[Any]) -> Outline:
    try:
        return Outline.of([(float(x), float(y)) for x, y in corners])
    except (TypeError, ValueError) as cause:
        raise UsageError(f"This is no outline: {cause}.", "Draw it again.") from cause
