"""Frames that two bordered ones make up: a pair of panels whose gutter hardly shows."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.vote_weights import Agreement


@dataclass(frozen=True, slots=True)
class TilingSettings:
    """When two frames make up a third.

    Parameters
    ----------
    bordered : float
        Least share of its weakest side along which each part shows a border.
    within : float
        Share of a part's places that lie in the whole.
    apart : float
        Share of the smaller part's places that the other may have too.
    cover : float
        Share of the whole's places that both parts have together.
    """

    bordered: float = 0.95
    within: float = 0.95
    apart: float = 0.02
    cover: float = 0.92


def no_better_than_parts(
    candidates: list[Candidate],
    agreed: Agreement,
    closed: list[bool],
    settings: TilingSettings | None = None,
) -> list[Candidate]:
    """Candidates; none gains as much as two bordered parts for which its places rather vote.

    A whole has fewer corners and fewer sides without a wall than its parts, and would win by
    that alone.

    Parameters
    ----------
    candidates : list of Candidate
        With their whole gain.
    agreed : Agreement
        Of the same candidates.
    closed : list of bool
        Which are walled all round: those are panels, whatever lies within.
    settings : TilingSettings or None

    Returns
    -------
    list of Candidate
    """
    s = settings or TilingSettings()
    able = [k for k, c in enumerate(candidates) if c.gain > 0 and c.bordered >= s.bordered]
    if len(able) < 3 or not agreed.inside.shape[1]:
        return candidates
    inside = agreed.inside[able].astype(np.float32)
    common = inside @ inside.T
    size = np.diag(common)
    said = agreed.fits[able].sum(axis=1)
    part = (common >= s.within * size[:, None]) & (size[:, None] <= s.within * size[None])
    clear = common <= s.apart * np.minimum(size[:, None], size[None])
    capped = list(candidates)
    for w, k in enumerate(able):
        parts = np.flatnonzero(part[:, w] & (size > 0))
        if closed[k] or len(parts) < 2:
            continue
        a, b = (parts[i] for i in np.nonzero(np.triu(clear[np.ix_(parts, parts)], 1)))
        fits = (size[a] + size[b] >= s.cover * size[w]) & (said[a] + said[b] > said[w])
        gains = [
            candidates[able[i]].gain + candidates[able[j]].gain
            for i, j in zip(a[fits], b[fits], strict=True)
        ]
        if gains and max(gains) < candidates[k].gain:
            capped[k] = replace(candidates[k], gain=0.99 * max(gains))
    return capped
