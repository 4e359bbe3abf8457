"""``panelscan show``: draw what was found on a page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from panelscan.cli import options
from panelscan.cli.console import print_json, print_table, say
from panelscan.cli.pages import scan_options
from panelscan.errors import NothingFound, OutputExistsError

STEPS = ("frame", "ground", "segments", "candidates", "selection", "sides", "final")


@click.command()
@click.argument("page_name", metavar="PAGE")
@options.library
@options.page
@click.option(
    "--step",
    type=click.Choice(STEPS),
    help="Draw what one step of the finding saw, to see why a panel was missed.",
)
@options.out("Picture to write (PNG); by default PAGE-panels.png in the present folder.")
@options.direction
@options.dpi
@options.page_format
@options.spreads
@options.as_json
@options.overwrite
def command(
    page_name: str,
    library: Path | None,
    page: int,
    step: str | None,
    out: Path | None,
    direction: str,
    dpi: float | None,
    page_format: str | None,
    spreads: str,
    as_json: bool,
    overwrite: bool,
) -> None:
    r"""Draw what was found on a page: outlines, order, gutters, lettering room, doubts.

    PAGE is a picture, PDF, TIFF or archive (with --page), or with --library a page of it,
    written BOOK/NUMBER.

    \b
    Example:
      panelscan show page_07.png -o found.png
      panelscan show page_07.png --step segments
    """
    from panelscan.cli.shown import look_again
    from panelscan.vision.trace import Trace

    wanted = scan_options(direction=direction, dpi=dpi, page_format=page_format, spreads=spreads)
    trace = Trace() if step else None
    if library is None and not Path(page_name).exists():
        raise NothingFound(
            f"{page_name}: there is no such file.",
            "Check the name; a page of a library needs --library too.",
        )
    record, image = look_again(page_name, library, page, wanted, trace)
    target = out or Path(f"{_stem(page_name, page)}-{step or 'panels'}.png")
    if target.exists() and not overwrite:
        raise OutputExistsError(f"{target}: is there already.", "Use --overwrite or another -o.")
    _draw(record, image, trace, step, target)
    if as_json:
        print_json(_data(record))
    else:
        _print(record)
    say(f"Picture: {target}")


def _stem(page_name: str, page: int) -> str:
    stem = Path(page_name.replace("/", "-") if not Path(page_name).exists() else page_name).stem
    return f"{stem}-{page}" if page > 1 else stem


def _draw(record: Any, image: Any, trace: Any, step: str | None, target: Path) -> None:
    from panelscan.vision.overlay import draw_page, draw_step, save_png

    if step:
        pixels = draw_step(image, trace, step)
    else:
        pixels = draw_page(image, record.finding, record.layout)
    save_png(target, pixels)


def _rows(record: Any) -> list[dict[str, Any]]:
    resolution = record.resolution
    rows = []
    for place, index in enumerate(record.layout.order, start=1):
        panel = record.finding.panels[index]
        outline = panel.outline
        mm = (
            f"{resolution.x_mm(outline.width):.0f} x {resolution.y_mm(outline.height):.0f}"
            if resolution
            else None
        )
        rows.append(
            {
                "panel": place,
                "left_px": round(outline.bounds[0], 1),
                "top_px": round(outline.bounds[1], 1),
                "width_px": round(outline.width, 1),
                "height_px": round(outline.height, 1),
                "size_mm": mm,
                "corners": len(outline.points),
                "bleed": ", ".join(sorted(panel.bleed)) or None,
                "confidence": round(panel.confidence, 2),
            }
        )
    return rows


def _print(record: Any) -> None:
    rows = _rows(record)
    header = list(rows[0]) if rows else ["panel"]
    title = f"{record.ref.label}: {len(rows)} panels, confidence {record.finding.confidence:.2f}"
    print_table(title, header, [list(r.values()) for r in rows], right=tuple(range(5)))
    for doubt in record.finding.doubts:
        say(f"Doubt: {doubt.text}")
    for parting in record.layout.partings:
        say(f"Order: {_parting_words(parting)}")


def _parting_words(parting: Any) -> str:
    start = "At the start" if parting.panel is None else f"After panel {parting.panel + 1}"
    share = f"{100 * parting.probability:.0f} %"
    return (
        f"{start} about {share} of readers go to panel {parting.second + 1}, not"
        f" {parting.first + 1} ({parting.reason})."
    )


def _data(record: Any) -> dict[str, Any]:
    panels = []
    for row, index in zip(_rows(record), record.layout.order, strict=True):
        corners = [list(p) for p in record.finding.panels[index].outline.points]
        panels.append(row | {"polygon_px": corners})
    return {
        "page": record.ref.label,
        "direction": record.direction.value,
        "confidence": record.finding.confidence,
        "skew_deg": record.finding.skew_deg,
        "ground": record.finding.ground.kind.value,
        "clarity": record.layout.clarity,
        "patterns": list(record.layout.patterns),
        "partings": [
            {
                "after": None if p.panel is None else p.panel + 1,
                "first": p.first + 1,
                "second": p.second + 1,
                "share": round(p.probability, 3),
                "reason": p.reason,
            }
            for p in record.layout.partings
        ],
        "panels": panels,
        "doubts": [d.text for d in record.finding.doubts],
    }
