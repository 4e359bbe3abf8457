"""A small library of drawn grids, saved as a scan would save them."""

from __future__ import annotations

import hashlib

import numpy as np

from panelscan.corpus.store import Library
from panelscan.layout.pages import lay_out_grid
from panelscan.model.outline import Outline
from panelscan.model.page import PageRef
from panelscan.model.panel import Ground, GroundKind, LetteringRoom, PageFinding, Panel
from panelscan.model.record import PageRecord
from panelscan.model.units import Resolution

HEIGHT = 3000.0


def record_of(grid, book, number, *, ppi=300.0, free_top=0.3):
    """A page record that holds a grid."""
    width = HEIGHT * grid.aspect
    panels = tuple(
        Panel(
            p.outline.scaled(width, HEIGHT),
            bleed=p.bleed,
            host=p.host,
            depth=p.depth,
            room=None if free_top is None else LetteringRoom(free_top, 0.1, 0.2),
        )
        for p in grid.panels
    )
    sha = hashlib.sha256(f"{book}/{number}".encode()).hexdigest()
    return PageRecord(
        ref=PageRef(f"{book}/page_{number:03d}.png", 0, sha),
        book=book,
        page_number=number,
        width_px=round(width),
        height_px=round(HEIGHT),
        resolution=None if ppi is None else Resolution(ppi, ppi),
        direction=grid.direction,
        direction_confidence=1.0,
        finding=PageFinding(
            frame=Outline.box(0, 0, width, HEIGHT),
            skew_deg=0.0,
            ground=Ground(GroundKind.WHITE, (255, 255, 255)),
            panels=panels,
            confidence=0.9,
            detector="drawn 1",
        ),
        layout=lay_out_grid(grid),
        grid=grid,
    )


def make_library(folder, books, seed=3):
    """Library with ``{book: grids}``, pages numbered from 1."""
    library = Library.create(folder)
    rng = np.random.default_rng(seed)
    for book, grids in books.items():
        records = [
            record_of(
                grid,
                book,
                number,
                ppi=None if rng.random() < 0.2 else 300.0,
                free_top=None if rng.random() < 0.2 else float(rng.uniform(0, 0.6)),
            )
            for number, grid in enumerate(grids, start=1)
        ]
        library.commit_book(book, records)
    return library
