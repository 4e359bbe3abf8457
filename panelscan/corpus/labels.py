"""What the artist says of pages and panels: book, issue, date, stage, scene, shot, anything.

Labels are appended in batches, one Parquet file a batch in ``labels/``, and never changed:
what was said last about the same thing counts, and taking a label away is said too. Pages
are named by the identity of their content, so labels follow a file that is renamed or
moved; panels by their page and their box, so they follow a panel through a rescan that
finds it nearly in the same place.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus.commit import Change, commit, recover
from panelscan.corpus.storage import Place, explained
from panelscan.corpus.tables import read_parquet, write_parquet
from panelscan.errors import LibraryError, UsageError

FOLDER = "labels"
STAGES = ("rough", "pencils", "inks", "colour")
SAME_PANEL_IOU = 0.5

SCHEMA = pa.schema(
    [
        ("scope", pa.string()),
        ("page_id", pa.string()),
        ("book", pa.string()),
        ("panel_box", pa.list_(pa.float64())),
        ("name", pa.string()),
        ("value", pa.string()),
        ("who", pa.string()),
        ("at", pa.string()),
    ]
)


@dataclass(frozen=True)
class Label:
    """One label: of a book, a page or a panel.

    Parameters
    ----------
    name : str
        ``"stage"``, ``"scene"`` … or any word of the artist's.
    value : str or None
        What is said; None takes the label away.
    page_id : str or None
        The page; None where the whole book is meant.
    book : str or None
        The book, where the whole book is meant.
    panel_box : tuple of float or None
        ``(x_min, y_min, x_max, y_max)`` of the panel in shares of the page frame.

    Raises
    ------
    UsageError
        If a known label has a value that it cannot have.

    Examples
    --------
    >>> Label("stage", "inks", page_id="ab12").value
    'inks'
    >>> Label("rating", "9", page_id="ab12")
    Traceback (most recent call last):
    ...
    panelscan.errors.UsageError: rating: 9 is no rating. Give 1 to 5.
    """

    name: str
    value: str | None
    page_id: str | None = None
    book: str | None = None
    panel_box: tuple[float, float, float, float] | None = None

    def __post_init__(self) -> None:
        if (self.page_id is None) == (self.book is None):
            raise ValueError("a label belongs to a page or to a book")
        if self.panel_box is not None and self.page_id is None:
            raise ValueError("a panel's label needs the panel's page")
        check_name(self.name)
        if self.value is not None:
            check_value(self.name, self.value)

    @property
    def scope(self) -> str:
        """``book``, ``page`` or ``panel``."""
        if self.book is not None:
            return "book"
        return "page" if self.panel_box is None else "panel"


def check_name(name: str) -> None:
    """Refuse names that no filter could spell.

    Raises
    ------
    UsageError
        If the name is empty, too long, or has brackets or line breaks.
    """
    if not name.strip() or len(name) > 80 or re.search(r"[\[\]#\n\r\t]", name):
        raise UsageError(
            f"{name[:80]!r} cannot be the name of a label.",
            "Use a word or a few, without brackets or line breaks.",
        )


def check_value(name: str, value: str) -> None:
    """Refuse values that a known label cannot have.

    Raises
    ------
    UsageError
        For a stage, rating or date that is none.
    """
    if name == "stage" and value not in STAGES:
        raise UsageError(f"stage: {value} is no stage.", f"Give {', '.join(STAGES)}.")
    if name == "rating" and value not in ("1", "2", "3", "4", "5"):
        raise UsageError(f"rating: {value} is no rating.", "Give 1 to 5.")
    if name == "date" and not re.fullmatch(r"\d{4}(-\d\d(-\d\d)?)?", value):
        raise UsageError(f"date: {value} is no date.", "Write 2026, 2026-03 or 2026-03-15.")


def add_labels(place: Place, labels: Sequence[Label], who: str, at: str) -> None:
    """Append labels, all of them or none; saved when this returns.

    Parameters
    ----------
    place : Place
        Where the library lies.
    labels : sequence of Label
        In the order said.
    who : str
        The person.
    at : str
        UTC time, ISO 8601.
    """
    if not labels:
        return
    with explained(place, "saving labels"), place.lock(60.0):
        recover(place)
        commit(place, Change(label_batch(place, labels, who, at)))


def label_batch(place: Place, labels: Sequence[Label], who: str, at: str) -> dict[str, bytes]:
    """The file that appends labels, to be written by one who holds the lock."""
    rows = [
        {
            "scope": label.scope,
            "page_id": label.page_id,
            "book": label.book,
            "panel_box": label.panel_box,
            "name": label.name,
            "value": label.value,
            "who": who,
            "at": at,
        }
        for label in labels
    ]
    stamp = re.sub(r"[^0-9]", "", at).ljust(17, "0")[:17]
    name = f"{FOLDER}/{len(_batches(place)):06d}-{stamp}-{uuid.uuid4().hex[:6]}.parquet"
    return {name: write_parquet(pa.Table.from_pylist(rows, schema=SCHEMA))}


def carried_labels(place: Place, old: str, new: str, at: str) -> dict[str, bytes]:
    """The file that says of a renamed book what was said of it under its old name."""
    told = labels_now(place).by_book
    labels = [
        Label(name, books[old], book=new)
        for name, books in told.items()
        if old in books and new not in books
    ]
    return label_batch(place, labels, "panelscan", at) if labels else {}


def _batches(place: Place) -> list[str]:
    return sorted(n for n in place.names(FOLDER) if n.endswith(".parquet") and n[0] != ".")


def all_labels(place: Place) -> pa.Table:
    """Every label ever said, in the order said; columns of ``SCHEMA``.

    Raises
    ------
    LibraryError
        If a batch is damaged; it names the file.
    """
    tables = [SCHEMA.empty_table()]
    with explained(place, "reading labels"):
        for name in _batches(place):
            try:
                tables.append(read_parquet(place.read(f"{FOLDER}/{name}")).cast(SCHEMA))
            except (ValueError, pa.ArrowException) as error:
                raise LibraryError(
                    f"{place.name}: {FOLDER}/{name} is damaged ({str(error)[:100]}).",
                    "Bring the file back from a copy, or move it away to go on without it.",
                ) from error
    return pa.concat_tables(tables)


@dataclass(frozen=True)
class PageLabels:
    """Labels that count now, of pages and books.

    Parameters
    ----------
    by_page : mapping
        Name -> page id -> value.
    by_book : mapping
        Name -> book -> value.
    panels : pyarrow.Table
        Labels of panels that count: ``page_id``, ``panel_box``, ``name``, ``value``.
    """

    by_page: Mapping[str, Mapping[str, str | None]]
    by_book: Mapping[str, Mapping[str, str | None]]
    panels: pa.Table

    @property
    def names(self) -> list[str]:
        """Names of the labels of pages and books, sorted."""
        return sorted({*self.by_page, *self.by_book})

    def column(self, name: str, page_ids: pa.ChunkedArray, books: pa.ChunkedArray) -> pa.Array:
        """A label's values for pages, null where nothing is said; a page's word beats its book's.

        Parameters
        ----------
        name : str
            The label.
        page_ids, books : pyarrow.ChunkedArray of string, length N
            The pages.

        Returns
        -------
        pyarrow.Array of string, length N
        """
        own = _lookup(self.by_page.get(name, {}), page_ids)
        shared = _lookup(self.by_book.get(name, {}), books)
        return pc.coalesce(own, shared)


def _lookup(values: Mapping[str, str | None], keys: pa.ChunkedArray) -> pa.Array:
    if not values:
        return pa.nulls(len(keys), pa.string())
    names = pa.array(list(values), pa.string())
    texts = pa.array(list(values.values()), pa.string())
    places = pc.index_in(keys, value_set=names)
    if isinstance(places, pa.ChunkedArray):
        places = places.combine_chunks()
    return texts.take(places)


def as_numbers(texts: pa.Array) -> pa.Array:
    """Numbers of texts, null where a text is none.

    Examples
    --------
    >>> as_numbers(pa.array(["3", "x", None, "4.5"])).to_pylist()
    [3.0, None, None, 4.5]
    """
    clean = pc.match_substring_regex(texts, r"^\s*[+-]?\d{1,15}(\.\d{1,15})?\s*$")
    kept = pc.if_else(clean, pc.utf8_trim_whitespace(texts), pa.scalar(None, pa.string()))
    return kept.cast(pa.float64())


def labels_now(place: Place) -> PageLabels:
    """Labels that count now: of all that was said about one thing, the last."""
    said = all_labels(place)
    by_page: dict[str, dict[str, str | None]] = {}
    by_book: dict[str, dict[str, str | None]] = {}
    for scope, target, key in (("page", by_page, "page_id"), ("book", by_book, "book")):
        rows = said.filter(pc.equal(said["scope"], scope))
        columns = (rows[n].to_pylist() for n in ("name", key, "value"))
        for name, owner, value in zip(*columns, strict=True):
            target.setdefault(name, {})[owner] = value
    return PageLabels(_without_removed(by_page), _without_removed(by_book), _panels_now(said))


def _without_removed(told: dict[str, dict[str, str | None]]) -> dict[str, dict[str, str | None]]:
    kept: dict[str, dict[str, str | None]] = {}
    for name, own in told.items():
        if standing := {k: v for k, v in own.items() if v is not None}:
            kept[name] = dict(standing)
    return kept


def _panels_now(said: pa.Table) -> pa.Table:
    rows = said.filter(pc.equal(said["scope"], "panel")).select(
        ["page_id", "panel_box", "name", "value"]
    )
    standing: list[dict[str, Any]] = []
    by_thing: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for row in rows.to_pylist():
        known = by_thing.setdefault((row["page_id"], row["name"]), [])
        boxes = np.array([k["panel_box"] for k in known], dtype=float).reshape(-1, 4)
        close = box_iou(boxes, np.array(row["panel_box"], dtype=float))
        if len(close) and close.max() >= SAME_PANEL_IOU:
            known.pop(int(close.argmax()))
        known.append(row)
    for known in by_thing.values():
        standing += [row for row in known if row["value"] is not None]
    return pa.Table.from_pylist(standing, schema=rows.schema)


def box_iou(boxes: np.ndarray[Any, Any], box: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Intersection over union of N boxes with one.

    Parameters
    ----------
    boxes : ndarray, shape (N, 4)
        ``x_min, y_min, x_max, y_max``.
    box : ndarray, shape (4,)

    Returns
    -------
    ndarray, shape (N,)

    Examples
    --------
    >>> box_iou(np.array([[0.0, 0, 2, 1], [1, 0, 3, 1]]), np.array([0.0, 0, 2, 1])).round(3)
    array([1.   , 0.333])
    """
    low, high = np.maximum(boxes[:, :2], box[:2]), np.minimum(boxes[:, 2:], box[2:])
    common = np.prod(np.clip(high - low, 0, None), axis=1)
    sizes = np.prod(boxes[:, 2:] - boxes[:, :2], axis=1) + np.prod(box[2:] - box[:2])
    union = sizes - common
    share = np.divide(common, union, out=np.zeros(len(boxes)), where=union > 0)
    return np.asarray(share)


def labels_from_rows(
    rows: Iterable[Mapping[str, str]], page_ids: Mapping[str, str], panel_boxes: Any = None
) -> list[Label]:
    """Labels from the rows of a CSV.

    Parameters
    ----------
    rows : iterable of mapping
        As from ``csv.DictReader``: a column ``page`` (id or file name) or ``book``, perhaps a
        column ``panel`` (number in the reading order), all others are labels; empty cells say
        nothing, a single ``-`` takes a label away.
    page_ids : mapping of str to str
        What a row may call a page -> its id.
    panel_boxes : callable or None
        ``(page_id, number) -> box`` of a panel, or None where it has no such panel.

    Raises
    ------
    UsageError
        If a row names no page or panel that is known; it gives the row's number.
    """
    labels: list[Label] = []
    for number, row in enumerate(rows, start=2):
        try:
            labels += _row_labels(row, page_ids, panel_boxes)
        except UsageError as error:
            raise UsageError(f"row {number}: {error.message}", error.remedy) from error
    return labels


def _row_labels(
    row: Mapping[str, str], page_ids: Mapping[str, str], panel_boxes: Any
) -> list[Label]:
    told = {k.strip(): (v or "").strip() for k, v in row.items() if k is not None}
    page, panel = told.pop("page", ""), told.pop("panel", "")
    said = {name: None if v == "-" else v for name, v in told.items() if v}
    if not page:
        book = said.pop("book", None)
        if not book:
            raise UsageError("it names no page and no book.", "Fill the column page or book.")
        return [Label(n, v, book=book) for n, v in said.items()]
    if page not in page_ids:
        raise UsageError(f"the library has no page {page!r}.", "Give a page's id or file name.")
    page_id = page_ids[page]
    box = None
    if panel:
        box = panel_boxes(page_id, int(panel)) if panel_boxes and panel.isdigit() else None
        if box is None:
            raise UsageError(f"page {page} has no panel {panel!r}.")
    return [Label(n, v, page_id=page_id, panel_box=box) for n, v in said.items()]
