"""Pages for the small net: what it is taught agrees with the picture. Needs no PyTorch."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))

import evidence_art
import evidence_pages

SHAPE = (900, 640, 3)
RINGS = [
    np.array([[40.0, 40], [600, 40], [600, 860], [40, 860]]),
    np.array([[350.0, 80], [560, 80], [560, 300], [350, 300]]),
]


def test_an_example_tells_the_owner_and_the_hull_of_each_panel() -> None:
    example = evidence_pages.draw_example(("grid", 3, "nib"))
    assert example is not None
    assert example.pixels.shape == (768, 576, 3)
    owner = example.maps[2]
    for k in range(int(owner.max())):
        y, x = np.nonzero(owner == k + 1)
        low, high = example.hulls[k].min(axis=0), example.hulls[k].max(axis=0)
        assert np.abs(np.array([x.min(), y.min()]) * 2 - low).max() < 4
        assert np.abs(np.array([x.max(), y.max()]) * 2 + 2 - high).max() < 4


def test_tasks_come_from_tuning_hands_and_the_hard_ones_more_often() -> None:
    tasks = evidence_pages.tasks_of(310, 0)
    assert {hand for _, _, hand in tasks} <= set(evidence_pages.TUNING_HANDS)
    assert len({(name, seed) for name, seed, _ in tasks}) == len(tasks)
    grid, scan, inset = (sum(t[0] == n for t in tasks) for n in ("grid", "scan", "inset"))
    assert (scan, inset) == (2 * grid, 3 * grid)


def test_no_page_that_the_net_learns_from_is_one_that_scores() -> None:
    import score_page
    import train_evidence

    most = max(seed for _, seed, _ in evidence_pages.tasks_of(train_evidence.PAGES, 0))
    apart = evidence_pages.tasks_of(
        train_evidence.VALIDATION_PAGES, train_evidence.VALIDATION_SEED
    )
    assert most < min(seed for _, seed, _ in apart)
    assert max(seed for _, seed, _ in apart) < score_page.FIRST_TUNING_SEED


def test_other_art_stays_within_its_panel_and_off_the_one_in_front() -> None:
    page = np.full(SHAPE, 255, np.uint8)
    page[80:300, 350:560] = 77
    rng = np.random.default_rng(1)
    for make in (evidence_art.with_other_art, evidence_art.with_marks):
        drawn = make(page.copy(), RINGS, rng)
        assert (drawn[:38] == 255).all() and (drawn[:, 603:] == 255).all()
    # By chance some panels keep their art: look at several draws.
    draws = [
        evidence_art.with_other_art(page.copy(), RINGS, np.random.default_rng(k)) for k in range(8)
    ]
    for art in draws:
        assert (art[80, 350:560] == 77).all() and (art[80:300, 559] == 77).all()
    assert any((art[45:75, 45:595] != 255).any() for art in draws)


def test_a_bent_page_moves_its_rings_with_it() -> None:
    page = np.zeros(SHAPE, np.uint8)
    page[300:600, 200:440] = 255
    ring = np.array([[200.0, 300], [440, 300], [440, 600], [200, 600]])
    warped, moved = evidence_art.bent(page, [ring], np.random.default_rng(5))
    y, x = np.nonzero(warped[..., 0] > 127)
    assert np.abs(moved[0].min(axis=0) - (x.min(), y.min())).max() < 3
    assert np.abs(moved[0].max(axis=0) - (x.max() + 1, y.max() + 1)).max() < 3
