"""A page as it stands: its detection with the corrections that count, and what scans say since.

What is on record, and which detection a page stands on, is told in `corrections`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from panelscan.corpus.corrections import PageLog
from panelscan.corpus.edit import Draft, apply, finished
from panelscan.errors import UsageError
from panelscan.layout.agreement import iou_table, match_panels
from panelscan.model.record import PageRecord

SAME_IOU = 0.9


@dataclass(frozen=True)
class Standing:
    """A page as it stands.

    Parameters
    ----------
    record : PageRecord
        With all corrections that count.
    keys : tuple of str
        Keys of the panels in reading order.
    revision : int
        Number of corrections made.
    reviewed : bool
        Whether a person called it fine.
    idle : tuple of int
        Revisions that count but have nothing left to act on, since what they built on was
        undone.
    """

    record: PageRecord
    keys: tuple[str, ...]
    revision: int
    reviewed: bool
    idle: tuple[int, ...] = ()


@dataclass(frozen=True)
class Disagreement:
    """What the newest scan of a corrected page would say differently.

    Parameters
    ----------
    page_id, label : str
        The page.
    standing, found : int
        Numbers of panels as they stand and as newly found.
    same : int
        How many of them agree (IoU at least 0.9).
    same_order : bool
        Whether those that agree are read in the same order.
    """

    page_id: str
    label: str
    standing: int
    found: int
    same: int
    same_order: bool

    @property
    def text(self) -> str:
        """One sentence for a person."""
        if self.same == self.standing == self.found:
            return f"{self.label}: the new scan would read the same panels in another order."
        return (
            f"{self.label}: the new scan finds {self.found} panels, {self.same} of them as"
            f" corrected ({self.standing}). The corrections stand."
        )


def standing(log: PageLog, *, strict: int | None = None) -> Standing:
    """The page as it stands.

    Parameters
    ----------
    log : PageLog
        All that is on record.
    strict : int or None
        Revision that must have something to act on.

    Raises
    ------
    UsageError
        If the revision ``strict`` makes no sense.
    """
    draft, idle = replay(log, strict=strict)
    record, keys = finished(draft)
    return Standing(record, keys, log.revision, draft.is_fine, idle)


def replay(log: PageLog, *, strict: int | None = None) -> tuple[Draft, tuple[int, ...]]:
    """The page with all corrections that count, not laid out, and the revisions that rest."""
    draft = Draft.of(_up_to_date(log.base.record, log.detections[-1].record))
    idle = []
    for entry in log.active():
        try:
            draft = apply(draft, entry.correction, entry.revision)
        except UsageError:
            if entry.revision == strict:
                raise
            idle.append(entry.revision)
    return draft, tuple(idle)


def _up_to_date(base: PageRecord, newest: PageRecord) -> PageRecord:
    """A detection with all that the newest scan says of the page beside its panels."""
    if base is newest:
        return base
    return replace(
        newest,
        finding=replace(base.finding, detector=newest.finding.detector),
        layout=base.layout,
        grid=base.grid,
    )


def disagreement(log: PageLog, now: Standing) -> Disagreement | None:
    """What the newest scan would say differently of the panels; None where it agrees.

    The detection that the corrections were made against is no news, so it says nothing.
    """
    newest = log.detections[-1].record
    if log.base is log.detections[-1]:
        return None
    ours, theirs = in_reading_order(now.record), in_reading_order(newest)
    matches = match_panels(iou_table(ours, theirs), SAME_IOU)
    order = [m.found for m in matches]
    told = Disagreement(
        now.record.ref.page_id,
        now.record.ref.label,
        len(ours),
        len(theirs),
        len(matches),
        order == sorted(order),
    )
    agrees = told.same == told.standing == told.found and told.same_order
    return None if agrees else told


def in_reading_order(record: PageRecord) -> list[Any]:
    """Outlines of a page's panels in reading order."""
    return [record.finding.panels[k].outline for k in record.layout.order]
