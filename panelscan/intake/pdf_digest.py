"""What a PDF page shows, as a hash that stays when other pages come, go or move.

An artist adds a page to a PDF and exports it again: the other pages are still the same, and
what was put right on them by hand must find them. So the page's own objects are hashed, not
the file: its contents, resources, boxes and rotation (ISO 32000-2, 7.7.3.3), without links
back into the document and without object numbers.
"""

from __future__ import annotations

import hashlib
from typing import Any

from panelscan.intake.files import open_binary

_INHERITED = ("/Resources", "/MediaBox", "/CropBox", "/Rotate")
_SHOWN = ("/Contents", "/Annots", "/UserUnit", "/Group")
_BACK = frozenset({"/Parent", "/P", "/StructParent", "/StructParents", "/Metadata", "/PieceInfo",
                   "/LastModified", "/Dest", "/A", "/Popup", "/IRT"})  # fmt: skip
_MOST_OBJECTS, _MOST_DEPTH, _MOST_PARENTS = 50_000, 40, 64


def page_sha256(path: str, index: int) -> str:
    """Hash of one page's own objects; empty where the PDF cannot be read this way.

    Parameters
    ----------
    path : str
        The PDF.
    index : int
        Page, from 0.
    """
    import pikepdf

    try:
        with open_binary(path) as stream, pikepdf.open(stream) as document:
            page = document.pages[index].obj
            walk = _Walk()
            for key in (*_INHERITED, *_SHOWN):
                walk.take(key, page.get(key) if key in _SHOWN else _inherited(page, key))
            return walk.digest.hexdigest()
    except Exception:  # hostile bytes make parsers raise nearly anything; the file's hash serves
        return ""


def _inherited(page: Any, key: str) -> Any:
    """Value of an attribute that a page may have from its ancestors."""
    node = page
    for _ in range(_MOST_PARENTS):
        if node is None or key in node:
            return None if node is None else node[key]
        node = node.get("/Parent")
    return None


class _Walk:
    """Feeds objects to a hash in an order that does not depend on how the file numbers them."""

    def __init__(self) -> None:
        self.digest = hashlib.sha256()
        self.seen: dict[tuple[int, int], int] = {}
        self.count = 0

    def take(self, name: str, thing: Any, depth: int = 0) -> None:
        """Hash one named object and all below it."""
        import pikepdf

        self.count += 1
        if self.count > _MOST_OBJECTS or depth > _MOST_DEPTH:
            raise ValueError("too many objects")
        self.digest.update(f"{name}\0".encode())
        if isinstance(thing, pikepdf.Object) and thing.is_indirect:
            if thing.objgen in self.seen:
                self.digest.update(f"seen {self.seen[thing.objgen]}\0".encode())
                return
            self.seen[thing.objgen] = len(self.seen)
        if isinstance(thing, pikepdf.Stream):
            self.digest.update(thing.read_raw_bytes())
        if isinstance(thing, (pikepdf.Dictionary, pikepdf.Stream)):
            for key in sorted(thing.keys()):
                if key not in _BACK:
                    self.take(key, thing[key], depth + 1)
        elif isinstance(thing, pikepdf.Array):
            for each in thing:
                self.take("[", each, depth + 1)
        else:
            self.digest.update(f"{type(thing).__name__} {thing}\0".encode())
