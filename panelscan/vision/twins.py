"""Candidates that are nearly the same panel: which are kept, and which shows its sides best."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate


@dataclass(frozen=True, slots=True)
class TwinSettings:
    """When two candidates are one panel; lengths in thousandths of the page's long side.

    Parameters
    ----------
    same_share : float
        Candidates whose boxes differ by less than this share of their size are one panel;
        the best of them is kept, so that other readings of the page differ in earnest.
    same_fill : float
        Unless they fill shares of the box that differ by this much: an L is no frame.
    twin, twin_share : float
        Corners of one panel lie no farther apart than this, or than this share of the panel.
    small : float
        The votes tell the sides of a panel no wider or no higher than this only roughly: a
        frame twice as far off is its twin if borders enclose it.
    unseen, seen : float
        Share of its weakest side that borders show: at most, at least.
    less_bordered : float
        A twin farther off than ``twin`` whose weakest side shows so much less of a border is
        no better for its walls: it follows the art, which may end before the panel does.
    more_walled : float
        A twin that the net proposed too is finer where so much more of its outline has a wall.
    """

    same_share: float = 0.025
    same_fill: float = 0.1
    twin: float = 7.0
    twin_share: float = 0.06
    small: float = 140.0
    unseen: float = 0.9
    seen: float = 0.95
    less_bordered: float = 0.2
    more_walled: float = 0.2


def distinct(candidates: list[Candidate], settings: TwinSettings | None = None) -> list[int]:
    """Places of the candidates without those that a better one of their kind nearly covers.

    What the net proposed is kept beside the rest: only it may be an inset.

    Parameters
    ----------
    candidates : list of Candidate
        With their whole gain.
    settings : TwinSettings or None

    Returns
    -------
    list of int
        Best first.
    """
    s = settings or TwinSettings()
    kept: list[int] = []
    boxes: dict[str, list[np.ndarray]] = {"net": [], "enclosed": [], "seen": []}
    for k in sorted(range(len(candidates)), key=lambda k: -candidates[k].gain):
        corners = candidates[k].corners
        box = np.concatenate([corners.min(axis=0), corners.max(axis=0)])
        size = box[2:] - box[:2]
        fill = cv2.contourArea(corners.astype(np.float32)) / max(float(size.prod()), 1.0)
        figure = np.append(box, fill)
        near = np.append(np.full(4, s.same_share * float(size.max())), s.same_fill)
        same = boxes[_kind(candidates[k])]
        if not any((np.abs(figure - other) < near).all() for other in same):
            same.append(figure)
            kept.append(k)
    return kept


def _kind(candidate: Candidate) -> str:
    if candidate.source == "enclosed":
        return "enclosed"
    return "net" if candidate.by_net else "seen"


def finest(
    candidate: Candidate,
    others: list[Candidate],
    unit: float,
    settings: TwinSettings | None = None,
) -> Candidate:
    """Candidate of the net's with its sides as a twin has them that was seen finer.

    The net sees a border to a pixel or two of its own; the edge of the ground is sharper. A
    twin farther off must show more of its outline.

    Parameters
    ----------
    candidate : Candidate
    others : list of Candidate
        Among which its twins are.
    unit : float
        Working pixels in a thousandth of the long side.
    settings : TwinSettings or None
    """
    s = settings or TwinSettings()
    if not (candidate.by_net or candidate.source == "lined") or len(candidate.corners) != 4:
        return candidate
    near = s.twin * unit
    far = max(near, s.twin_share * float(np.ptp(candidate.corners, axis=0).max()))
    best, most = candidate, candidate.walled
    for other in others:
        if len(other.corners) != 4 or (
            other.by_net and other.walled < candidate.walled + s.more_walled
        ):
            continue
        apart = _apart(other, candidate)
        if apart > near and other.bordered < candidate.bordered - s.less_bordered:
            continue
        walled = other.walled + (0.05 if apart <= near else -0.03)
        walled -= 0.01 * (other.source == "lined")
        if apart <= far and walled >= most:
            best, most = other, walled
    if best is candidate:
        best = _enclosed_twin(candidate, others, 2 * far, s.small * unit, s)
    return replace(candidate, corners=best.corners, sides=best.sides, source=best.source)


def _enclosed_twin(
    candidate: Candidate, others: list[Candidate], far: float, small: float, s: TwinSettings
) -> Candidate:
    """Nearest frame that borders enclose, where they hardly show the candidate's own sides."""
    if candidate.bordered >= s.unseen or float(np.ptp(candidate.corners, axis=0).min()) > small:
        return candidate
    twins = [o for o in others if o.source == "enclosed" and o.bordered > s.seen]
    near = [o for o in twins if _apart(o, candidate) < far]
    return min(near, key=lambda o: _apart(o, candidate), default=candidate)


def _apart(one: Candidate, other: Candidate) -> float:
    return float(np.abs(one.corners - other.corners).max())
