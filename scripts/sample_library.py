"""Make the sample library of the current version that the tests keep for ever.

    python scripts/sample_library.py tests/data/corpus_v1

A tiny one of two invented books, with labels, a correction and a pack. Run it once when the
schema gets a new version, commit what it makes, and never again: later versions of the
program must open it as it is.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from panelscan.corpus.labels import Label, add_labels
from panelscan.corpus.packs import compact
from panelscan.corpus.store import Library
from panelscan.model.correction import DeletePanel, PageIsFine
from tests.corpus.made_up import make_book, make_record


def make(folder: str) -> None:
    """Write the sample library."""
    library = Library.create(folder)
    library.commit_book("Salt", make_book("Salt", 2))
    library.commit_book("Tin", [make_record("Tin", 1, [1])])
    compact(library)
    library.commit_book("Kelp", [make_record("Kelp", 1, [2, 2], ppi=None)])
    page = make_record("Kelp", 1).ref.page_id
    library.correct(page, DeletePanel("d3"), 0, who="Ada", book="Kelp")
    library.correct(page, PageIsFine(), 1, who="Ada", book="Kelp")
    labels = [Label("stage", "inks", book="Salt"), Label("rating", "4", page_id=page)]
    add_labels(library.place, labels, "Ada", "2026-03-01T10:00:00.000Z")
    for file in Path(folder).rglob(".work/*"):
        file.unlink()
    Path(folder, ".work").rmdir()


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    make(sys.argv[1])
