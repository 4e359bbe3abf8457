from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from panelscan.model.grid import CutNode, Gutter, GutterKind, PageLayout, Parting
from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.model.panel import (
    Doubt,
    Ground,
    GroundKind,
    LetteringRoom,
    PageFinding,
    Panel,
    Side,
    SideState,
)
from panelscan.vision.detector import find_panels
from panelscan.vision.drawing import (
    BLUE,
    GREEN,
    ORANGE,
    PURPLE,
    VERMILION,
    YELLOW,
    Drawing,
    smooth_path,
)
from panelscan.vision.overlay import SIDE_LINES, WHAT, draw_page, draw_step, save_png
from panelscan.vision.trace import STEPS, Trace
from tests.vision.drawn import turned_page


def two_panels(offset: float = 0.0) -> PageFinding:
    left = Outline.box(100, 100, 480, 900).moved(offset)
    right = Outline.box(520, 100, 900, 900).moved(offset)
    states = (SideState.DRAWN, SideState.INFERRED, SideState.BLEED, SideState.SHARED)
    return PageFinding(
        Outline.box(offset, 0, offset + 1000, 1000),
        0.0,
        Ground(GroundKind.WHITE, (255, 255, 255)),
        (
            Panel(left, tuple(Side(s) for s in states), room=LetteringRoom(0.2, 0.0, 0.3)),
            Panel(right, tuple(Side() for _ in range(4)), confidence=0.4),
        ),
        0.5,
        doubts=(Doubt("inferred-side", "One side was inferred.", (480 + offset, 500)),),
        balloons=(Outline.box(150, 150, 300, 260).moved(offset),),
    )


def layout_of(order: tuple[int, ...], offset: float = 0.0) -> PageLayout:
    strip = Outline.box(480, 100, 520, 900).moved(offset)
    gutter = Gutter(GutterKind.COLUMN, (0, 1), strip, 40, 40, 40, 800)
    return PageLayout(order, (), 1.0, (), (), CutNode("panel", (0,)), (gutter,), {})


def page_image(width: int = 1000, height: int = 1000, **more: object) -> PageImage:
    return PageImage(np.full((height, width), 255, np.uint8), width, height, **more)  # type: ignore[arg-type]


def near(picture: np.ndarray, x: float, y: float, color: tuple[int, int, int]) -> bool:
    """Whether a colour occurs within three pixels of a place."""
    patch = picture[round(y) - 3 : round(y) + 4, round(x) - 3 : round(x) + 4].reshape(-1, 3)
    return bool((np.abs(patch.astype(int) - color).max(axis=1) <= 4).any())


def test_sides_stand_where_they_were_found_in_their_own_look() -> None:
    picture = draw_page(page_image(), two_panels(), what=("panels",))
    scale = 1.1  # 1,000 pixels are drawn at the least size, 1,100
    assert near(picture, 700 * scale, 100 * scale, BLUE)
    assert near(picture, 250 * scale, 100 * scale, BLUE)
    on = (np.abs(picture[170:930, round(480 * scale)].astype(int) - VERMILION) <= 4).all(axis=1)
    assert 0.4 < on.mean() < 0.95
    assert any(near(picture, x * scale, 900 * scale, GREEN) for x in range(150, 400, 4))
    assert any(near(picture, 100 * scale, y * scale, PURPLE) for y in range(150, 850, 10))


def test_reduced_and_offset_pages_are_drawn_in_place() -> None:
    image = PageImage(np.full((500, 500), 255, np.uint8), 2000, 1000, 2.0, (1000.0, 0.0))
    picture = draw_page(image, two_panels(1000), layout_of((0, 1), 1000))
    assert picture.shape[1] == 1100
    assert near(picture, 700 * 1.1, 100 * 1.1, BLUE)


def test_everything_at_once_and_each_alone() -> None:
    finding, layout = two_panels(), layout_of((1, 0))
    full = draw_page(page_image(), finding, layout)
    assert full.dtype == np.uint8 and full.ndim == 3 and full.shape[1] == 1100
    assert full.shape[0] > 1100 + 30  # legend below
    for one in WHAT:
        alone = draw_page(page_image(), finding, layout, what=(one,))
        assert (alone.shape[0] > 1100) == (one != "frame")
    with pytest.raises(ValueError, match="cannot draw shadows"):
        draw_page(page_image(), finding, what=("shadows",))


def test_the_way_some_readers_take_is_drawn_from_a_tenth_of_them_on() -> None:
    def picture(share: float) -> np.ndarray:
        parting = Parting(None, 0, 1, "overlap", share)
        layout = replace(layout_of((0, 1)), partings=(parting,))
        return draw_page(page_image(), two_panels(), layout, what=("order",))

    def colored(pixels: np.ndarray) -> int:
        return int((np.abs(pixels[:1100].astype(int) - VERMILION).max(axis=2) <= 4).sum())

    assert colored(picture(0.4)) > 300 and colored(picture(0.07)) == 0


def test_unsure_panel_and_doubt_are_marked() -> None:
    picture = draw_page(page_image(), two_panels(), layout_of((0, 1)))
    badge = 710 * 1.1 - 18, (100 + 0.46 * 800) * 1.1 - 2
    assert near(picture, *badge, ORANGE)
    assert near(picture, 480 * 1.1 - 9, 500 * 1.1, YELLOW)


@pytest.mark.parametrize("size", [(300, 400), (1240, 1754), (5000, 7000)])
def test_any_page_size_gives_a_picture_for_a_screen(size: tuple[int, int]) -> None:
    image = page_image(*size)
    finding = PageFinding(
        Outline.box(0, 0, *size),
        0.0,
        Ground(GroundKind.WHITE, (255, 255, 255)),
        (Panel(Outline.box(size[0] * 0.1, size[1] * 0.1, size[0] * 0.9, size[1] * 0.9)),),
        1.0,
    )
    picture = draw_page(image, finding, layout_of((0,)))
    assert 1100 <= picture.shape[0] <= 2200


def test_page_within_its_image_is_shown() -> None:
    finding = two_panels()
    inside = PageFinding(Outline.box(50, 50, 950, 950), 0.0, finding.ground, finding.panels, 1.0)
    picture = draw_page(page_image(), inside, what=("frame",))
    assert picture[20, 20, 0] < picture[500, 500, 0]


def test_every_step_can_be_drawn() -> None:
    gray, _ = turned_page(0.8, np.random.default_rng(3), (420, 600))
    image = PageImage(gray, 420, 600)
    trace = Trace()
    finding = find_panels(image, trace=trace)
    assert finding.panels
    for step in STEPS:
        picture = draw_step(image, trace, step)
        assert picture.dtype == np.uint8 and picture.shape[1] >= 420
        plain = draw_step(image, Trace(), "frame")
        assert step == "frame" or picture.shape != plain.shape or (picture != plain).any()


def test_png_reads_back_the_same(tmp_path: Path) -> None:
    picture = draw_page(page_image(), two_panels())
    target = tmp_path / "Seite ä 1.png"
    save_png(target, picture)
    data = np.frombuffer(target.read_bytes(), np.uint8)
    back = cv2.cvtColor(cv2.imdecode(data, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB)
    assert np.array_equal(back, picture)


def test_path_runs_through_all_its_places() -> None:
    places = np.array([[0.0, 0], [100, 10], [20, 90], [110, 100]])
    path = smooth_path(places)
    for place in places:
        assert np.hypot(*(path - place).T).min() < 1e-9
    assert np.array_equal(smooth_path(places[:2]), places[:2])


def test_dashes_leave_gaps_of_the_asked_length() -> None:
    drawing = Drawing(np.full((40, 400, 3), 255, np.uint8))
    drawing.line(np.array([[0.0, 20], [400, 20]]), BLUE, 3, (20, 20), halo=0)
    on = (drawing.pixels[20] == BLUE).all(axis=1)
    assert 0.4 < on.mean() < 0.65


# Full colour-vision deficiency in linear RGB (G. Machado, M. Oliveira, L. Fernandes 2009, IEEE
# Trans. Visualization and Computer Graphics 15:1291-1298; matrices from memory).
DEFICIENT = {
    "protan": [[0.152, 1.053, -0.205], [0.115, 0.786, 0.099], [-0.004, -0.048, 1.052]],
    "deutan": [[0.367, 0.861, -0.228], [0.280, 0.673, 0.047], [-0.012, 0.043, 0.969]],
    "tritan": [[1.256, -0.077, -0.179], [-0.078, 0.931, 0.148], [0.005, 0.691, 0.304]],
}


@pytest.mark.parametrize("kind", DEFICIENT)
def test_side_states_differ_for_all_eyes_and_in_gray(kind: str) -> None:
    looks = list(SIDE_LINES.values())
    assert len({dash for _, _, dash, _ in looks}) == len(looks)
    colors = np.array([color for color, *_ in looks]) / 255.0
    seen = np.clip((colors**2.2) @ np.array(DEFICIENT[kind]).T, 0, 1) ** (1 / 2.2)
    apart = np.abs(seen[:, None] - seen[None]).max(axis=2)[np.triu_indices(len(looks), 1)]
    assert apart.min() > 0.1


def test_doubt_in_the_middle_of_a_panel_leaves_its_number_readable() -> None:
    finding = replace(two_panels(), doubts=(Doubt("close-second", "Two readings.", (290, 468)),))
    with_doubt = draw_page(page_image(), finding, layout_of((0, 1)))
    without = draw_page(page_image(), replace(finding, doubts=()), layout_of((0, 1)))
    x, y = round(290 * 1.1), round(468 * 1.1)
    badge = (slice(y - 8, y + 9), slice(x - 8, x + 9))
    assert np.array_equal(with_doubt[badge], without[badge])
