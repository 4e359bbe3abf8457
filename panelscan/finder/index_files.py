"""The index on disk: one folder of plain NumPy files a state of the library, memory-mapped.

::

    LIBRARY/.find/<fingerprint>/   meta.json and one .npy file an array

The fingerprint is taken of the library's table files (name, size, time, identity), of the
books as they are labelled, and of the versions that the numbers depend on; another
fingerprint means stale, and a new folder is made aside and renamed into place. The folder
can be deleted at any time.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import uuid
from contextlib import suppress
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow.compute as pc

from panelscan.corpus.labels import all_labels
from panelscan.corpus.naming import LABEL
from panelscan.corpus.storage import FolderPlace
from panelscan.corpus.store import Library
from panelscan.corpus.view import look
from panelscan.finder.coarse import Coarse
from panelscan.finder.index_arrays import IndexArrays
from panelscan.finder.index_tables import Names
from panelscan.layout.signature import VECTOR_VERSION

FOLDER = ".find"
INDEX_VERSION = 2
META = "meta.json"


def fingerprint(library: Library) -> str:
    """Short hash of what the index of this library depends on."""
    marks = look(library.place, ("pages", "panels")).marks
    told = {
        "tables": {t: sorted((n, *m) for n, m in files.items()) for t, files in marks.items()},
        "links": sorted((n, *m) for n, m in library.place.names("links").items()),
        "books": _labelled_books(library),
        "versions": [INDEX_VERSION, VECTOR_VERSION],
    }
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:20]


def _labelled_books(library: Library) -> list[list[str | None]]:
    """Everything said with the label ``book``, which names pages."""
    said = all_labels(library.place)
    said = said.filter(pc.equal(said["name"], LABEL))
    columns = [said[name].to_pylist() for name in ("page_id", "book", "value")]
    return [list(row) for row in zip(*columns, strict=True)]


def index_folder(library: Library, cache: Path | None = None) -> Path | None:
    """Where indexes of a library lie; None where nothing can be mapped from there."""
    if cache is not None:
        return cache
    place = library.place
    return place.root / FOLDER if isinstance(place, FolderPlace) else None


def save(folder: Path, name: str, arrays: IndexArrays, coarse: Coarse, names: Names) -> bool:
    """Write an index aside and rename it into place; older ones are cleared away.

    Returns
    -------
    bool
        False where the folder cannot be written: the index then lives in memory only.
    """
    fresh = folder / f".new-{uuid.uuid4().hex[:8]}"
    try:
        fresh.mkdir(parents=True)
        for key, value in _all_arrays(arrays, coarse).items():
            np.save(fresh / f"{key}.npy", value, allow_pickle=False)
        (fresh / META).write_text(json.dumps(asdict(names)), encoding="utf-8")
        with suppress(OSError):  # someone else may have been quicker
            fresh.rename(folder / name)
    except OSError:
        return False
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    for old in folder.iterdir():
        if old.name != name and not old.name.startswith(".new-"):
            shutil.rmtree(old, ignore_errors=True)
    return True


def load(folder: Path, name: str) -> tuple[IndexArrays, Coarse, Names] | None:
    """Map an index into memory; None where there is none or it is damaged."""
    try:
        told = json.loads((folder / name / META).read_text(encoding="utf-8"))
        names = Names(tuple(told["books"]), tuple(told["forms"]))
        arrays = IndexArrays(**_mapped(folder / name, [f.name for f in fields(IndexArrays)]))
        parts = _mapped(folder / name, [f"coarse_{f.name}" for f in fields(Coarse)])
        coarse = Coarse(**{k.removeprefix("coarse_"): v for k, v in parts.items()})
    except (OSError, ValueError, KeyError, TypeError):
        return None
    if not _fits(arrays, coarse):
        return None
    return arrays, coarse, names


def _all_arrays(arrays: IndexArrays, coarse: Coarse) -> dict[str, np.ndarray]:
    return {f.name: getattr(arrays, f.name) for f in fields(arrays)} | {
        f"coarse_{f.name}": getattr(coarse, f.name) for f in fields(coarse)
    }


def _mapped(folder: Path, names: list[str]) -> dict[str, Any]:
    """Arrays by name, mapped; those too small to be mapped are read."""
    found: dict[str, Any] = {}
    for name in names:
        path = folder / f"{name}.npy"
        try:
            # A plain view: indexing a memmap object costs more than the work itself.
            found[name] = np.asarray(np.load(path, mmap_mode="r", allow_pickle=False))
        except ValueError:
            found[name] = np.load(path, allow_pickle=False)
    return found


def _fits(arrays: IndexArrays, coarse: Coarse) -> bool:
    """Whether the arrays' sizes agree, so that no torn file is used."""
    pages, panels = len(arrays.ids), len(arrays.areas)
    return (
        len(arrays.starts) == pages + 1
        and int(arrays.starts[-1]) == panels
        and len(arrays.corner_starts) == panels + 1
        and int(arrays.corner_starts[-1]) == len(arrays.corners)
        and len(arrays.vectors) == len(coarse.short) == len(coarse.page) == pages
        and len(arrays.boxes) == len(arrays.slants) == panels
    )
