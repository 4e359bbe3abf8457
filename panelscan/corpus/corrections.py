"""Corrections by hand: kept for ever, each with who, when and against which detection.

**What stands and what was measured.** ``pages/``, ``panels/`` and ``gutters/`` hold what
stands now. What was detected is never overwritten by a correction: the file
``corrections/<page id>.jsonl`` of a corrected page holds every detection that a correction
was made against, and the newest one, whole. Lines are only ever added::

    {"line": "detection", "id": "…", "at": "…", "record": {…}}
    {"line": "correction", "revision": 1, "kind": "move-corner", …, "who": "Ada",
     "at": "…", "program": "panelscan 0.1.0", "detection": "…"}

A line that belongs to what a person did together with an earlier one (a panel cut in two,
then its halves moved onto the borders) says so: ``"action": 7`` names the first revision of
that action, so that it can be taken back as a whole, for ever.

The file is named after the page's content, so corrections follow a page that is renamed,
moved to another book, or taken out of the library and scanned again later. It is text, so
that a person's work can be read, copied and mended with any editor.

**What wins.** Once a correction that counts says something of the panels, the page keeps the
detection that it was made against, whatever later scans find; they are noted, and
`standing.disagreement` says what they would change. Corrections of the direction and the page
format say nothing of the panels: they are applied to the newest detection. An undoing is one
more line, and can be undone.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import panelscan
from panelscan.corpus.record_json import Json, record_from_json, record_to_json
from panelscan.corpus.rows import detection_of
from panelscan.corpus.storage import Place
from panelscan.errors import LibraryError, UsageError
from panelscan.model.correction import Correction, Undo
from panelscan.model.correction_kinds import BY_CLASS, correction_from_json, correction_to_json
from panelscan.model.record import PageRecord

FOLDER = "corrections"


@dataclass(frozen=True)
class Entry:
    """One correction on record.

    ``action`` is the first revision of what a person did at once; its own where it stands alone.
    """

    revision: int
    correction: Correction
    who: str
    at: str
    program: str
    detection: str
    action: int


@dataclass(frozen=True)
class Detection:
    """What one scan found on a page; ``told`` as in the file."""

    id: str
    at: str
    told: Json

    @cached_property
    def record(self) -> PageRecord:
        """The page as an object, not laid out; its panels stand in reading order."""
        return record_from_json(self.told)


@dataclass(frozen=True)
class PageLog:
    """All that is on record of one page.

    Parameters
    ----------
    detections : tuple of Detection
        Oldest first; the last is the newest scan's.
    entries : tuple of Entry
        Corrections, oldest first.
    text : str
        The file's lines as they are, to which new ones are added.
    """

    detections: tuple[Detection, ...]
    entries: tuple[Entry, ...]
    text: str

    @property
    def revision(self) -> int:
        """Number of corrections made, undone ones included."""
        return len(self.entries)

    def active(self) -> tuple[Entry, ...]:
        """Corrections that count: not undone, and no undoing themselves."""
        undone: set[int] = set()
        standing = []
        for entry in reversed(self.entries):
            if entry.revision in undone:
                continue
            if isinstance(entry.correction, Undo):
                undone.add(entry.correction.revision)
            else:
                standing.append(entry)
        return tuple(reversed(standing))

    @property
    def base(self) -> Detection:
        """The detection that the page stands on: see the module's text."""
        for entry in self.active():
            if not BY_CLASS[type(entry.correction)].of_page:
                known = [d for d in self.detections if d.id == entry.detection]
                return known[-1] if known else self.detections[-1]
        return self.detections[-1]


def log_path(page_id: str) -> str:
    """Where a page's corrections lie."""
    safe = re.fullmatch(r"[0-9A-Za-z][0-9A-Za-z_-]{0,99}", page_id)
    name = page_id if safe else "x" + hashlib.sha256(page_id.encode()).hexdigest()[:40]
    return f"{FOLDER}/{name}.jsonl"


def read_log(place: Place, page_id: str) -> PageLog | None:
    """What is on record of a page, None where nothing is.

    Raises
    ------
    LibraryError
        If the file is damaged; it names the file and the line.
    """
    path = log_path(page_id)
    try:
        text = place.read(path).decode("utf-8")
    except FileNotFoundError:
        return None
    except UnicodeDecodeError as error:
        raise _damaged(place, path, 0) from error
    detections: list[Detection] = []
    entries: list[Entry] = []
    for number, line in enumerate(text.splitlines(), start=1):
        try:
            _read_line(json.loads(line), detections, entries)
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            raise _damaged(place, path, number) from error
    if not detections:
        raise _damaged(place, path, 1)
    return PageLog(tuple(detections), tuple(entries), text)


def _read_line(told: Any, detections: list[Detection], entries: list[Entry]) -> None:
    if told["line"] == "detection":
        detections.append(Detection(told["id"], told["at"], told["record"]))
        return
    revision = int(told["revision"])
    if revision != len(entries) + 1:
        raise ValueError("revisions count up by one")
    correction = correction_from_json({**told, "revision": told.get("undoes")})
    action = int(told.get("action", revision))
    if not 1 <= action <= revision:
        raise ValueError("an action begins with itself or an earlier correction")
    said = (told["who"], told["at"], told["program"], told["detection"])
    entries.append(Entry(revision, correction, *said, action))


def _damaged(place: Place, path: str, line: int) -> LibraryError:
    return LibraryError(
        f"{place.name}: {path} is damaged in line {line}.",
        "It holds corrections by hand: bring it back from a copy, or mend the line in an editor.",
    )


def new_log(record: PageRecord, at: str) -> PageLog:
    """The record of a page that nobody has corrected yet."""
    return with_detection(PageLog((), (), ""), record, at)


def with_detection(log: PageLog, record: PageRecord, at: str) -> PageLog:
    """The log after a new scan; the same where the scan found the same as the newest."""
    told = json.loads(json.dumps(record_to_json(record)))
    if log.detections and _same_finding(log.detections[-1].told, told):
        return log
    name = detection_of(record)
    line = {"line": "detection", "id": name, "at": at, "record": told}
    text = f"{log.text}{json.dumps(line, ensure_ascii=False)}\n"
    return replace(log, detections=(*log.detections, Detection(name, at, told)), text=text)


def _same_finding(old: Json, new: Json) -> bool:
    """Whether two scans say the same; how long they took, and what else might be, do not count."""
    aside = {"measures": None, "alternatives": None}
    return {**old, **aside} == {**new, **aside}


def with_entry(
    log: PageLog, correction: Correction, who: str, at: str, action: int | None = None
) -> PageLog:
    """The log after one more correction.

    Parameters
    ----------
    log : PageLog
        What is on record.
    correction : Correction
        What a person says.
    who, at : str
        The person, and when.
    action : int or None
        First revision of the action that the correction belongs to; None: it stands alone.

    Raises
    ------
    UsageError
        If the correction makes no sense on the page as it stands.
    """
    revision = log.revision + 1
    if action is not None and not 1 <= action <= revision:
        raise UsageError(f"There is no action that begins with correction {action}.")
    if isinstance(correction, Undo) and not 1 <= correction.revision < revision:
        raise UsageError(f"There is no correction {correction.revision} to undo.")
    entry = Entry(
        revision,
        correction,
        who,
        at,
        f"panelscan {panelscan.__version__}",
        log.base.id,
        revision if action is None else action,
    )
    said = correction_to_json(correction)
    if "revision" in said:
        said["undoes"] = said.pop("revision")
    told = {
        "line": "correction",
        "revision": revision,
        **said,
        "who": who,
        "at": at,
        "program": entry.program,
        "detection": entry.detection,
    }
    if entry.action != revision:
        told["action"] = entry.action
    text = f"{log.text}{json.dumps(told, ensure_ascii=False)}\n"
    return replace(log, entries=(*log.entries, entry), text=text)


def relocated_log(log: PageLog, page: Mapping[str, Any]) -> PageLog:
    """The log with the page's whereabouts as the library has them now (in memory only)."""
    newest = log.detections[-1]
    ref = {
        **newest.told["ref"],
        "source_path": page["source_path"],
        "source_index": page["source_index"],
        "member": page["source_member"] or "",
    }
    told = {**newest.told, "ref": ref, "book": page["book"], "page_number": page["page_number"]}
    return replace(log, detections=(*log.detections[:-1], replace(newest, told=told)))
