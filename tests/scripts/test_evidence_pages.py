"""Pages for the small net: what it is taught agrees with the picture. Needs no PyTorch."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))

import evidence_art
import evidence_insets
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
    tasks = evidence_pages.tasks_of(360, 0)
    assert {hand for _, _, hand in tasks} <= set(evidence_pages.TUNING_HANDS)
    assert len({(name, seed) for name, seed, _ in tasks}) == len(tasks)
    grid, scan, inset = (sum(t[0] == n for t in tasks) for n in ("grid", "scan", "inset"))
    assert (scan, inset) == (3 * grid, 4 * grid)


def test_no_page_that_the_net_learns_from_is_one_that_tunes_or_scores() -> None:
    import score_page
    import train_evidence as train

    learned = evidence_pages.tasks_of(train.PAGES, train.FIRST_SEED)
    apart = evidence_pages.tasks_of(train.VALIDATION_PAGES, train.VALIDATION_SEED)
    assert max(seed for _, seed, _ in apart) < score_page.FIRST_TUNING_SEED
    scored = score_page.drawn_tasks("grid", 1000, True, 1900)
    assert max(task.seed for task in scored) < min(seed for _, seed, _ in learned)


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


def test_insets_lie_over_the_page_as_their_rings_say() -> None:
    page = np.full(SHAPE, 255, np.uint8)
    page[500:760, 60:240] = 0
    page[505:755, 65:235] = (200, 90, 40)
    rings = [
        np.array([[40.0, 40], [600, 40], [600, 460], [260, 460]]),
        np.array([[60.0, 500], [240, 500], [240, 760], [60, 760]]),
    ]
    laid = 0
    for seed in range(12):
        drawn, kept = evidence_insets.with_insets(page.copy(), rings, np.random.default_rng(seed))
        for ring in kept[2:]:
            x0, y0 = ring.min(axis=0)
            x1, y1 = ring.max(axis=0)
            middle = drawn[round((y0 + y1) / 2), round((x0 + x1) / 2)].astype(int)
            assert np.abs(middle - (200, 90, 40)).max() < 8
            # The line lies just within the ring.
            assert drawn[round((y0 + y1) / 2), round(x0 + 1)].max() < 200
            laid += 1
    assert laid > 6


def test_a_copy_at_the_pages_edge_still_fits() -> None:
    ring = np.array([[2.0, 330], [638, 330], [638, 870], [2, 870]])
    small = np.array([[60.0, 60], [250, 60], [250, 300], [60, 300]])
    for seed in range(60):
        page = np.zeros(SHAPE, np.uint8)
        rng = np.random.default_rng(seed)
        drawn, _ = evidence_insets.with_insets(page, [small, ring], rng)
        assert drawn.shape == SHAPE


def test_another_ground_leaves_the_panels_alone() -> None:
    page = np.full(SHAPE, 255, np.uint8)
    page[40:860, 40:600] = (10, 200, 30)
    drawn = evidence_art.with_other_ground(page.copy(), RINGS, np.random.default_rng(2))
    assert (drawn[41:859, 41:599] == (10, 200, 30)).all()
    (tone,) = np.unique(drawn[:30].reshape(-1, 3), axis=0)
    assert tuple(tone) != (255, 255, 255)
