"""Whether a page was right as it was first seen, told by what a person changed on it."""

from __future__ import annotations

from panelscan.corpus.corrections import PageLog
from panelscan.corpus.standing import in_reading_order, standing
from panelscan.layout.agreement import iou_table, match_panels
from panelscan.model.correction import PageIsFine, SetDirection, SetPageFormat, SetSideState
from panelscan.model.outline import Outline
from panelscan.model.record import PageRecord

NUDGE_IOU = 0.9
FRAME_IOU = 0.98
FOLD_SHARE = 0.01
NO_CHANGE = (PageIsFine, SetPageFormat)


def right_at_first_sight(log: PageLog) -> bool:
    """Whether nothing that counts had to be changed.

    Parameters
    ----------
    log : PageLog
        All that is on record of a page that a person has called fine.

    Returns
    -------
    bool
        True where the panels as they stand are those that the person was shown at first:
        one to one at an IoU of at least 0.9, so that a nudged corner is no fault, read in the
        same order and direction, with the same sides, page edge and fold.
    """
    changes = [entry.correction for entry in log.active()]
    if all(isinstance(change, NO_CHANGE) for change in changes):
        return True
    seen, now = _first_seen(log), standing(log).record
    # A later scan may tell another direction by itself; only a person's word counts here.
    turned = any(isinstance(change, SetDirection) for change in changes)
    if (turned and seen.direction != now.direction) or not _same_place(seen, now):
        return False
    pairs = _same_panels(seen, now)
    if pairs is None:
        return False
    marked = any(isinstance(change, SetSideState) for change in changes)
    return not marked or all(_states(seen, a) == _states(now, b) for a, b in pairs)


def _first_seen(log: PageLog) -> PageRecord:
    """What the first correction was made against."""
    name = log.entries[0].detection
    known = [d for d in log.detections if d.id == name]
    return (known or list(log.detections))[0].record


def _same_place(seen: PageRecord, now: PageRecord) -> bool:
    """Whether page edge and fold lie where they lay."""
    before, after = seen.finding, now.finding
    if before.frame.iou(after.frame) < FRAME_IOU:
        return False
    if before.fold_x_px is None or after.fold_x_px is None:
        return before.fold_x_px is after.fold_x_px
    return abs(before.fold_x_px - after.fold_x_px) <= FOLD_SHARE * seen.width_px


def _same_panels(seen: PageRecord, now: PageRecord) -> list[tuple[int, int]] | None:
    """Pairs of the same panel, by places in the reading order; None where they differ."""
    before: list[Outline] = in_reading_order(seen)
    after: list[Outline] = in_reading_order(now)
    matches = match_panels(iou_table(after, before), NUDGE_IOU)
    if not len(matches) == len(before) == len(after):
        return None
    pairs = sorted((m.found, m.true) for m in matches)
    return pairs if all(a == b for a, b in pairs) else None


def _states(record: PageRecord, place: int) -> list[str]:
    """States of a panel's sides, whichever side is told first."""
    panel = record.finding.panels[record.layout.order[place]]
    told = [side.state.value for side in panel.sides]
    return sorted(told or ["drawn"] * len(panel.outline.points))
