from __future__ import annotations

import pytest

from panelscan.model.outline import Outline


def test_outline_is_counterclockwise_in_numbers_whatever_was_given():
    # GeoParquet 1.1.0: "counterclockwise" is the sign of the numbers, y down or not.
    clockwise = Outline.of([(0, 0), (0, 2), (2, 2), (2, 0)])
    assert clockwise.area == 4
    assert clockwise.shape.exterior.is_ccw


def test_iou_of_square_turned_45_degrees_is_one_over_root_two():
    # Arithmetic: the common octagon of two unit squares turned 45 degrees apart.
    h = 2**0.5 / 2
    square = Outline.box(-0.5, -0.5, 0.5, 0.5)
    turned = Outline.of([(-h, 0), (0, -h), (h, 0), (0, h)])
    assert square.iou(turned) == pytest.approx(0.70711, abs=1e-5)


@pytest.mark.parametrize(
    "points",
    [[(0, 0), (1, 1)], [(0, 0), (1, 1), (2, 2)], [(0, 0), (2, 2), (2, 0), (0, 2), (1, 5)]],
)
def test_outline_refuses_what_is_no_polygon(points):
    with pytest.raises(ValueError):
        Outline.of(points)


def test_mirroring_twice_gives_the_same_outline():
    outline = Outline.of([(1, 1), (5, 2), (4, 7), (0, 6)])
    assert outline.mirrored(10).mirrored(10) == outline


def test_nearly_the_same_polygon_is_not_lost():
    # Found in the wild: GEOS 3.14 gave a MultiPoint for these two.
    a = Outline(
        (
            (91.57912856790044, 10.694070506311487),
            (158.79102851498104, 7.061357263619917),
            (171.15596189199158, 235.83544689481505),
            (103.944061944911, 239.46816013750657),
        )
    )
    b = Outline(
        (
            (91.57912856790044, 10.6940705063115),
            (158.79102851498104, 7.061357263619928),
            (171.15596189199158, 235.83544689481505),
            (103.944061944911, 239.4681601375066),
        )
    )
    assert a.iou(b) == pytest.approx(1.0)
    assert b.iou(a) == pytest.approx(1.0)
