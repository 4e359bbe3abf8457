"""The record and the picture of a page for showing: from its file, or from the library."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from panelscan.errors import InputError

if TYPE_CHECKING:
    from panelscan.model.page import PageImage
    from panelscan.model.record import PageRecord
    from panelscan.pipeline.options import ScanOptions
    from panelscan.vision.trace import Trace


def look_again(
    name: str, library: Path | None, page: int, options: ScanOptions, trace: Trace | None
) -> tuple[PageRecord, PageImage]:
    """Record and pixels of a page.

    A page of the library is drawn as the library has it, corrections and all; its picture
    is read from where it was scanned.

    Raises
    ------
    InputError
        If the picture is no longer there.
    """
    from panelscan.pipeline.stages import look_at

    if library is None or Path(name).is_file():
        return look_at(name, page - 1, options, trace=trace)
    from panelscan.cli.pages import find_page
    from panelscan.corpus.store import Library
    from panelscan.model.page import PagePart

    shelf = Library.open(library)
    page_id, title = find_page(shelf, name)
    state = shelf.page(page_id)
    ref = state.record.ref
    if not Path(ref.source_path).exists():
        raise InputError(
            f"{title}: its picture {ref.source_path} is no longer there.",
            "Bring it back, or scan the page where it lies now.",
        )
    part = ref.part if ref.part in (PagePart.LEFT, PagePart.RIGHT) else None
    _, image = look_at(ref.source_path, ref.source_index, options, part, trace)
    return state.record, image
