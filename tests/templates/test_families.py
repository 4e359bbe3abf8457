from __future__ import annotations

import time

import numpy as np
import pytest

from panelscan.layout.distance import grid_distance
from panelscan.model.grid import Grid
from panelscan.templates.families import family_grid, group_families
from tests.templates.samples import NAMED, blockage, tiers
from tests.templates.test_regularize import shaken


def labels(families, count):
    found = np.full(count, -1)
    for k, family in enumerate(families):
        for member in family.members:
            assert found[member] == -1
            found[member] = k
    return found


def test_shaken_copies_of_named_grids_are_found_again():
    from sklearn.metrics import adjusted_rand_score

    grids, truth = [], []
    for k, name in enumerate(sorted(NAMED)):
        for seed in range(6):
            grids.append(shaken(NAMED[name], 10 * k + seed, 1.0))
            truth.append(k)
    order = np.random.default_rng(0).permutation(len(grids))
    grids, truth = [grids[i] for i in order], [truth[i] for i in order]
    families = group_families(grids)
    found = labels(families, len(grids))
    # Hubert and Arabie 1985 as scikit-learn computes it: 1 is the same partition.
    assert adjusted_rand_score(truth, found) == 1.0
    assert [len(f) for f in families] == [6] * len(NAMED)
    again = group_families(grids[::-1])
    assert adjusted_rand_score(labels(again, len(grids))[::-1], found) == 1.0


def test_typical_first_and_distances_rise():
    grids = [shaken(NAMED["mixed"], s, 2.0) for s in range(9)]
    (family,) = group_families(grids)
    assert family.distances[0] == 0
    assert list(family.distances) == sorted(family.distances)
    mean = [np.mean([grid_distance(a, b).value for b in grids]) for a in grids]
    assert family.typical == int(np.argmin(mean))
    assert 0 < family.spread < 0.03


def test_family_grid_is_steadier_than_its_members():
    grids = [shaken(NAMED["nine"], s, 1.5) for s in range(15)]
    (family,) = group_families(grids)
    steady = grid_distance(family_grid(family, grids), NAMED["nine"]).value
    each = [grid_distance(g, NAMED["nine"]).value for g in grids]
    assert steady < 0.6 * min(each)


def test_mirror_images_are_families_apart():
    grids = [blockage(), blockage().mirrored(), tiers(1, 1)]
    families = group_families(grids)
    assert len(families) == 3
    mirrored = [f for f in families if f.mirror_of is not None]
    assert [families[f.mirror_of].typical for f in mirrored] == [0]
    assert mirrored[0].typical == 1


def test_nothing_and_empty_pages():
    assert group_families([]) == ()
    assert [len(f) for f in group_families([Grid(()), Grid(())])] == [2]


@pytest.mark.slow
def test_a_thousand_grids_take_seconds():
    names = sorted(NAMED)
    rng = np.random.default_rng(1)
    grids = []
    for _ in range(1000):
        counts = rng.integers(1, 4, rng.integers(2, 5))
        base = tiers(*counts) if rng.random() < 0.8 else NAMED[names[rng.integers(len(names))]]
        grids.append(shaken(base, int(rng.integers(1e9)), 1.0))
    start = time.perf_counter()
    families = group_families(grids)
    assert time.perf_counter() - start < 30
    assert sum(len(f) for f in families) == 1000
    assert len(families) < 200
