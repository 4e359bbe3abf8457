"""Grids grouped into families: the same but for small differences.

A first, fast look at short vectors says which grids may belong together; the distance of
the grids themselves decides. Families grow around the grids with the most near neighbors
(leader clustering), are then re-centred on their most typical member and filled anew, so
that the result does not depend on the order in which pages were scanned.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from panelscan.layout.distance import distances, grid_distance, matched
from panelscan.layout.fields import panel_rows
from panelscan.layout.signature import grid_vector
from panelscan.model.grid import Grid
from panelscan.model.outline import Outline

SMALL_DIFFERENCE = 0.03
"""Distance up to which grids are one family: sides about 3 % of the page apart."""
_LOOKED_AT = 4
_SAMPLE = 60
_NEAR_VECTOR = 4.0


@dataclass(frozen=True)
class Family:
    """Grids that are the same but for small differences.

    Parameters
    ----------
    members : tuple of int
        Places in the list of grids, the most typical first, then by distance from it.
    distances : tuple of float
        Distance of each member from the most typical one.
    mirror_of : int or None
        Place of an earlier family in the list whose mirror image this one is.
    """

    members: tuple[int, ...]
    distances: tuple[float, ...]
    mirror_of: int | None = None

    def __len__(self) -> int:
        return len(self.members)

    @property
    def typical(self) -> int:
        """The most typical member."""
        return self.members[0]

    @property
    def spread(self) -> float:
        """Mean distance of the members from the most typical one."""
        return float(np.mean(self.distances))


def group_families(
    grids: Sequence[Grid], difference: float = SMALL_DIFFERENCE
) -> tuple[Family, ...]:
    """Group grids into families, the largest first.

    Parameters
    ----------
    grids : sequence of Grid
        Page-relative.
    difference : float
        Greatest distance of a member from its family's most typical grid; 0.03 keeps
        together what differs by a redrawing, 0.08 what differs by a moved tier.

    Returns
    -------
    tuple of Family
        Every grid is in exactly one. Grids with different numbers of panels are never in
        one family.

    Examples
    --------
    >>> from panelscan.model.grid import GridPanel
    >>> one, two = (Grid((GridPanel(Outline.box(x, 0.1, 0.9, 0.9)),)) for x in (0.1, 0.11))
    >>> three = Grid((GridPanel(Outline.box(0.5, 0.5, 0.9, 0.9)),))
    >>> [f.members for f in group_families([one, three, two])]
    [(0, 2), (1,)]
    """
    rows = [panel_rows(g) for g in grids]
    by_count: dict[int, list[int]] = defaultdict(list)
    for i, grid in enumerate(grids):
        by_count[len(grid)].append(i)
    families = []
    for _, places in sorted(by_count.items()):
        vectors = np.array([grid_vector(grids[i]) for i in places])
        families += _grouped(places, vectors, rows, difference)
    families.sort(key=lambda f: (-len(f), f.typical))
    return _with_mirrors(families, grids, difference)


def _grouped(
    places: list[int], vectors: np.ndarray, rows: Sequence[np.ndarray], difference: float
) -> list[Family]:
    """Families among grids with one number of panels."""
    own = [rows[i] for i in places]
    order = np.argsort(-_near_counts(vectors, _NEAR_VECTOR * difference), kind="stable")
    leaders = _assigned(order, vectors, own, difference, [])[0]
    _, labels = _assigned(order, vectors, own, difference, leaders)
    centres = [_medoid(np.flatnonzero(labels == k), own) for k in range(len(leaders))]
    centres, labels = _assigned(order, vectors, own, difference, centres)
    families = []
    for k in range(len(centres)):
        members = np.flatnonzero(labels == k)
        if not members.size:
            continue
        centre = _medoid(members, own)
        apart = distances(own[centre], [own[m] for m in members])
        by_distance = sorted(zip(apart, members != centre, members, strict=True))
        families.append(
            Family(
                tuple(places[int(m)] for _, _, m in by_distance),
                tuple(float(d) for d, _, _ in by_distance),
            )
        )
    return families


def _near_counts(vectors: np.ndarray, radius: float, block: int = 1024) -> np.ndarray:
    """How many vectors lie within the radius of each."""
    squares = np.einsum("ij,ij->i", vectors, vectors)
    counts = np.zeros(len(vectors), dtype=np.int64)
    for start in range(0, len(vectors), block):
        part = vectors[start : start + block]
        apart = squares[start : start + block, None] + squares - 2 * part @ vectors.T
        counts[start : start + block] = (apart <= radius**2).sum(axis=1)
    return counts


def _assigned(
    order: np.ndarray,
    vectors: np.ndarray,
    rows: list[np.ndarray],
    difference: float,
    leaders: list[int],
) -> tuple[list[int], np.ndarray]:
    """Each grid to the nearest leader within the difference; else it leads itself."""
    found = list(leaders)
    table = np.zeros((max(64, 2 * len(found)), vectors.shape[1]), dtype=np.float32)
    table[: len(found)] = vectors[found]
    labels = np.full(len(rows), -1)
    for i in order:
        apart = np.square(table[: len(found)] - vectors[i]).sum(axis=1)
        near = np.argpartition(apart, _LOOKED_AT)[:_LOOKED_AT] if len(apart) > _LOOKED_AT else None
        candidates = np.arange(len(apart)) if near is None else np.sort(near)
        exact = distances(rows[i], [rows[found[c]] for c in candidates])
        if exact.size and exact.min() <= difference:
            labels[i] = candidates[int(exact.argmin())]
            continue
        labels[i] = len(found)
        if len(found) == len(table):
            table = np.concatenate([table, np.zeros_like(table)])
        table[len(found)] = vectors[i]
        found.append(int(i))
    return found, labels


def _medoid(members: np.ndarray, rows: list[np.ndarray]) -> int:
    """The member with the least mean distance to (a sample of) the others."""
    if len(members) == 0:
        raise ValueError("an empty family has no typical member")
    step = max(1, len(members) // _SAMPLE)
    sample = members[::step]
    others = [rows[m] for m in sample]
    means = [distances(rows[m], others).mean() for m in sample]
    return int(sample[int(np.argmin(means))])


def _with_mirrors(
    families: list[Family], grids: Sequence[Grid], difference: float
) -> tuple[Family, ...]:
    """Say which families are the mirror image of an earlier one."""
    vectors = np.array([grid_vector(grids[f.typical]) for f in families])
    marked: list[Family] = []
    for k, family in enumerate(families):
        flipped = grids[family.typical].mirrored()
        own = panel_rows(flipped)
        apart = np.square(vectors[:k] - grid_vector(flipped)).sum(axis=1) if k else np.zeros(0)
        mirror = None
        for j in np.argsort(apart)[:3]:
            other = grids[families[j].typical]
            if len(other) == len(flipped) and matched(own, panel_rows(other))[0] <= difference:
                mirror = int(j)
                break
        marked.append(replace(family, mirror_of=mirror))
    return tuple(marked)


def family_grid(family: Family, grids: Sequence[Grid]) -> Grid:
    """The family's own grid: the median of its members' corners, panel by panel.

    Panels whose outlines have another number of corners than the typical member's do not
    count.

    Parameters
    ----------
    family : Family
        From `group_families`.
    grids : sequence of Grid
        As given there.
    """
    typical = grids[family.typical]
    corners: list[list[np.ndarray]] = [[p.outline.array()] for p in typical.panels]
    for member in family.members[1:]:
        for pair in grid_distance(typical, grids[member]).pairs:
            other = grids[member].panels[pair.second].outline.array()
            if other.shape == corners[pair.first][0].shape:
                corners[pair.first].append(other)
    panels = []
    for panel, found in zip(typical.panels, corners, strict=True):
        try:
            outline = Outline.of(np.median(np.stack(found), axis=0))
        except ValueError:
            outline = panel.outline
        panels.append(replace(panel, outline=outline))
    aspect = float(np.median([grids[m].aspect for m in family.members]))
    return replace(typical, panels=tuple(panels), aspect=aspect)
