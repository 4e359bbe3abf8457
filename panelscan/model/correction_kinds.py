"""The registry of corrections: each kind's name in files, its words for people, its JSON.

A new kind is written once in `panelscan.model.correction`, entered here once, and applied in
`panelscan.corpus.edit`; files, requests and the history on the review page follow.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass
from typing import Any

from panelscan.model.correction import (
    AddPanel,
    Correction,
    DeletePanel,
    MergePanels,
    MoveCorner,
    PageIsFine,
    Reorder,
    SetDirection,
    SetFold,
    SetOutline,
    SetPageFormat,
    SetPageFrame,
    SetSideState,
    SplitPanel,
    Undo,
)
from panelscan.model.outline import Outline, Point
from panelscan.model.page import ReadingDirection
from panelscan.model.panel import SideState

Reader = Callable[[Any], Any]


@dataclass(frozen=True)
class CorrectionKind:
    """One kind of correction.

    Parameters
    ----------
    name : str
        In files and requests.
    made : type
        Its class.
    words : str
        What was done, for the history.
    readers : mapping of str to callable
        For each field, what makes its value of a JSON value; raises TypeError or ValueError.
    of_page : bool
        It says nothing of the panels, so a better detection may still come in.
    """

    name: str
    made: type[Correction]
    words: str
    readers: Mapping[str, Reader] = dataclasses.field(default_factory=dict)
    of_page: bool = False


def _point(told: Any) -> Point:
    x, y = told
    return float(x), float(y)


def _keys(told: Any) -> tuple[str, ...]:
    return tuple(map(str, told))


def _maybe_float(told: Any) -> float | None:
    return None if told is None else float(told)


REGISTRY = (
    CorrectionKind("move-corner", MoveCorner, "corner moved",
                   {"panel": str, "corner": int, "to": _point}),
    CorrectionKind("set-outline", SetOutline, "outline moved",
                   {"panel": str, "outline": Outline.of}),
    CorrectionKind("add-panel", AddPanel, "panel added", {"outline": Outline.of}),
    CorrectionKind("delete-panel", DeletePanel, "panel deleted", {"panel": str}),
    CorrectionKind("split-panel", SplitPanel, "panel cut in two",
                   {"panel": str, "start": _point, "end": _point, "gutter_px": float}),
    CorrectionKind("merge-panels", MergePanels, "panels joined", {"panels": _keys}),
    CorrectionKind("reorder", Reorder, "order set", {"order": _keys}),
    CorrectionKind("direction", SetDirection, "direction set",
                   {"direction": ReadingDirection}, of_page=True),
    CorrectionKind("page-frame", SetPageFrame, "page's edge set", {"outline": Outline.of}),
    CorrectionKind("page-format", SetPageFormat, "page format set",
                   {"name": str, "width_mm": float, "height_mm": float}, of_page=True),
    CorrectionKind("fold", SetFold, "fold set", {"x_px": _maybe_float}),
    CorrectionKind("side-state", SetSideState, "side marked",
                   {"panel": str, "side": int, "state": SideState}),
    CorrectionKind("page-is-fine", PageIsFine, "called fine"),
    CorrectionKind("undo", Undo, "taken back", {"revision": int}),
)  # fmt: skip
BY_NAME = {kind.name: kind for kind in REGISTRY}
BY_CLASS = {kind.made: kind for kind in REGISTRY}


def correction_to_json(correction: Correction) -> dict[str, Any]:
    """A correction with its kind, as values that `json` can write."""
    told: dict[str, Any] = {"kind": BY_CLASS[type(correction)].name}
    for field in dataclasses.fields(correction):
        value = getattr(correction, field.name)
        told[field.name] = value.points if isinstance(value, Outline) else value
    return told


def correction_from_json(told: Mapping[str, Any]) -> Correction:
    """A correction from JSON, e.g. a request of the review page.

    Raises
    ------
    KeyError, TypeError, ValueError
        If the JSON is no correction.

    Examples
    --------
    >>> correction_from_json({"kind": "undo", "revision": 3})
    Undo(revision=3)
    """
    kind = BY_NAME[told["kind"]]
    optional = {f.name for f in dataclasses.fields(kind.made) if f.default is not MISSING}
    values = {
        name: read(told[name])
        for name, read in kind.readers.items()
        if name in told or name not in optional
    }
    return kind.made(**values)
