from __future__ import annotations

from panelscan.model.outline import Outline
from panelscan.model.panel import Ground, GroundKind, PageFinding, Panel
from panelscan.vision.book_prior import learn_prior


def page(tone: int, confidence: float) -> PageFinding:
    return PageFinding(
        frame=Outline.box(0, 0, 100, 200),
        skew_deg=0.0,
        ground=Ground(GroundKind.TINTED, (tone, tone, tone)),
        panels=(Panel(Outline.box(10, 20, 90, 180)),),
        confidence=confidence,
    )


def test_only_sure_pages_speak() -> None:
    prior = learn_prior([page(200, 0.9), page(210, 0.9), page(220, 0.95), page(0, 0.3)])
    assert prior.pages == 3
    assert prior.ground_rgb == (210, 210, 210)
    assert prior.live_share == (0.1, 0.1, 0.9, 0.9)


def test_two_pages_are_no_habit() -> None:
    assert learn_prior([page(200, 0.9), page(200, 0.9)]).pages == 0
