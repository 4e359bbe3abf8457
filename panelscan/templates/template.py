"""A grid given back as a page to draw on: placed, layered, written in the format asked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from panelscan.errors import UsageError
from panelscan.model.formats import PRINTER_DECIDES, PageFormat
from panelscan.model.grid import Grid
from panelscan.templates.build import build_page
from panelscan.templates.layers import LayeredPage
from panelscan.templates.options import TemplateOptions
from panelscan.templates.place import place
from panelscan.templates.placement import Placement
from panelscan.templates.write import refuse_overwrite, write_whole


@dataclass(frozen=True)
class TemplateReport:
    """What was written.

    Parameters
    ----------
    path : Path
        The file.
    placement : Placement
        The panels in millimetres, with the change of every panel's shape.
    size_mm : tuple of float
        Width and height of the sheet.
    size_px : tuple of int or None
        Width and height in pixels, for formats that have pixels.
    layers : tuple of str
        Names of the layers, bottom first.
    notes : tuple of str
        What could not be kept, and who decides.
    """

    path: Path
    placement: Placement
    size_mm: tuple[float, float]
    size_px: tuple[int, int] | None
    layers: tuple[str, ...]
    notes: tuple[str, ...]


Writer = Callable[[LayeredPage, TemplateOptions, tuple[int, int]], bytes]


def _svg(page: LayeredPage, options: TemplateOptions, size: tuple[int, int]) -> bytes:
    from panelscan.templates.svg import svg_bytes

    return svg_bytes(page)


def _pdf(page: LayeredPage, options: TemplateOptions, size: tuple[int, int]) -> bytes:
    from panelscan.templates.pdf import pdf_bytes

    return pdf_bytes(page)


def _ora(page: LayeredPage, options: TemplateOptions, size: tuple[int, int]) -> bytes:
    from panelscan.templates.ora import ora_bytes

    return ora_bytes(page, options, size)


def _tiff(page: LayeredPage, options: TemplateOptions, size: tuple[int, int]) -> bytes:
    from panelscan.templates.tiff import tiff_bytes

    return tiff_bytes(page, options, size)


def _png(page: LayeredPage, options: TemplateOptions, size: tuple[int, int]) -> bytes:
    from panelscan.templates.png import png_bytes

    return png_bytes(page, options, size)


WRITERS: dict[str, Writer] = {
    ".svg": _svg,
    ".pdf": _pdf,
    ".ora": _ora,
    ".tif": _tiff,
    ".tiff": _tiff,
    ".png": _png,
}
PIXEL_FORMATS = frozenset({".ora", ".tif", ".tiff", ".png"})


def write_template(
    grid: Grid, page_format: PageFormat, out: Path, options: TemplateOptions | None = None
) -> TemplateReport:
    """Write a grid as a layered page; the file's suffix chooses how.

    Parameters
    ----------
    grid : Grid
        Page-relative.
    page_format : PageFormat
        The page.
    out : Path
        File to write: ``.ora``, ``.pdf``, ``.svg``, ``.tif`` or ``.png``.
    options : TemplateOptions, optional
        Layers, resolution, gutters.

    Returns
    -------
    TemplateReport
        What was written, and what changed.

    Raises
    ------
    UsageError
        If the suffix is unknown, or the grid is too dense for the gutters.
    OutputExistsError
        If the file is there and replacing it was not asked for.
    LibraryError
        If the place cannot be written.
    """
    options = options or TemplateOptions()
    suffix = out.suffix.lower()
    if suffix not in WRITERS:
        listed = ", ".join(sorted(WRITERS))
        raise UsageError(
            f"{out}: templates are not written as {suffix!r}.", f"Use one of {listed}."
        )
    refuse_overwrite(out, options.overwrite)
    placement = place(grid, page_format, options.tier_gutter_mm, options.column_gutter_mm)
    page = build_page(placement, options)
    size_px = page_format.pixel_size(options.ppi)
    write_whole(out, WRITERS[suffix](page, options, size_px), options.overwrite)
    return TemplateReport(
        path=out,
        placement=placement,
        size_mm=page.size_mm,
        size_px=size_px if suffix in PIXEL_FORMATS else None,
        layers=tuple(layer.title for layer in page.layers),
        notes=(*placement.notes, f"{page_format.title}: {page_format.standing}.", PRINTER_DECIDES),
    )
