"""Small made-up pages and books for the library's tests."""

from __future__ import annotations

import hashlib
import itertools

import numpy as np

from panelscan.model.grid import (
    CutNode,
    Grid,
    GridPanel,
    Gutter,
    GutterKind,
    OrderChoice,
    PageLayout,
    Tier,
)
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge, PagePart, PageRef, ReadingDirection
from panelscan.model.panel import (
    Doubt,
    Ground,
    GroundKind,
    LetteringRoom,
    PageFinding,
    Panel,
    Reading,
    Side,
    SideState,
)
from panelscan.model.record import PageRecord
from panelscan.model.units import Resolution

WIDTH, HEIGHT = 1988, 3075


def boxes_of(tiers: list[int], jitter: np.random.Generator | None = None) -> list[Outline]:
    """Panels of a page of tiers, in source pixels, in reading order left to right."""
    outlines = []
    left, top, right, bottom, gap = 100.0, 140.0, WIDTH - 100.0, HEIGHT - 200.0, 36.0
    tall = (bottom - top - gap * (len(tiers) - 1)) / max(1, len(tiers))
    for t, count in enumerate(tiers):
        wide = (right - left - gap * (count - 1)) / count
        for c in range(count):
            x, y = left + c * (wide + gap), top + t * (tall + gap)
            box = np.array([[x, y], [x + wide, y], [x + wide, y + tall], [x, y + tall]])
            if jitter is not None:
                box = box + jitter.normal(0, 3, box.shape)
            outlines.append(Outline.of(box.tolist()))
    return outlines


def _layout(tiers: list[int], outlines: list[Outline]) -> PageLayout:
    order = tuple(range(len(outlines)))
    places, rows, gutters = iter(order), [], []
    for count in tiers:
        members = tuple(next(places) for _ in range(count))
        ys = [outlines[k].bounds for k in members]
        rows.append(Tier(members, min(b[1] for b in ys), max(b[3] for b in ys)))
        for a, b in itertools.pairwise(members):
            x0, x1 = outlines[a].bounds[2], outlines[b].bounds[0]
            y0, y1 = outlines[a].bounds[1], outlines[a].bounds[3]
            strip = Outline.box(x0, y0, x1, y1) if x1 > x0 else None
            width = max(0.0, x1 - x0)
            gutters.append(Gutter(GutterKind.COLUMN, (a, b), strip, width, width, width, y1 - y0))
    return PageLayout(
        order=order,
        alternatives=(OrderChoice(order[::-1], 0.04),),
        clarity=0.93,
        partings=(),
        tiers=tuple(rows),
        cut_tree=CutNode("rows", order),
        gutters=tuple(gutters),
        margins=dict.fromkeys(PageEdge, 100.0),
        patterns=("regular grid",),
        measures={"symmetry": 0.9, "evenness": 0.8},
    )


def make_record(
    book: str = "Salt",
    number: int = 1,
    tiers: list[int] | None = None,
    *,
    seed: int | None = None,
    content: str | None = None,
    ppi: float | None = 300.0,
    detector: str = "made-up 1",
    confidence: float = 0.97,
    part: PagePart = PagePart.WHOLE,
    look: bytes = b"",
) -> PageRecord:
    """A page with panels in tiers, all of its fields filled."""
    tiers = [2, 1, 3] if tiers is None else tiers
    jitter = None if seed is None else np.random.default_rng(seed)
    outlines = boxes_of(tiers, jitter)
    text = f"{book}/{number}" if content is None else content
    panels = tuple(
        Panel(
            o,
            sides=tuple(
                Side(SideState.DRAWN, 0.98, 6.0 + k % 2, 0.4) for k in range(len(o.points))
            ),
            confidence=0.95,
            room=LetteringRoom(0.3, 0.12, 0.2),
        )
        for o in outlines
    )
    finding = PageFinding(
        frame=Outline.box(0, 0, WIDTH, HEIGHT),
        skew_deg=0.2,
        ground=Ground(GroundKind.WHITE, (252, 251, 246)),
        panels=panels,
        confidence=confidence,
        alternatives=(Reading(panels[:-1], 0.05),) if panels else (),
        doubts=(Doubt("close-second", "Two readings are nearly as likely.", (10.0, 20.0)),),
        balloons=(Outline.box(150, 200, 400, 300),),
        detector=detector,
        measures={"took_s": 0.4},
    )
    grid = Grid(
        tuple(GridPanel(o.scaled(1 / WIDTH, 1 / HEIGHT)) for o in outlines), aspect=WIDTH / HEIGHT
    )
    return PageRecord(
        ref=PageRef(
            f"{book}/page_{number:03d}.png",
            0,
            hashlib.sha256(text.encode()).hexdigest(),
            part,
        ),
        book=book,
        page_number=number,
        width_px=WIDTH,
        height_px=HEIGHT,
        resolution=None if ppi is None else Resolution(ppi, ppi),
        direction=ReadingDirection.LTR,
        direction_confidence=1.0,
        finding=finding,
        layout=_layout(tiers, outlines),
        grid=grid,
        settings={"direction": "ltr"},
        notes=("resolution from the file",),
        look=look,
    )


def make_book(book: str, pages: int, **more: object) -> list[PageRecord]:
    """A book of made-up pages."""
    patterns = [[2, 1, 3], [3, 3], [1], [2, 2, 2], [1, 2]]
    return [
        make_record(book, n, patterns[n % len(patterns)], seed=n, **more)  # type: ignore[arg-type]
        for n in range(1, pages + 1)
    ]
