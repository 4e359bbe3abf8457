"""Page formats built in, and finding one by name.

Sizes that come from a standard say so; the others are trade practice. The printer's own
sheet always has the last word.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from panelscan.errors import NothingFound
from panelscan.model.page_format import (
    PRINTER_DECIDES,
    BoardFit,
    Box,
    PageFormat,
    PageSide,
    board_fit,
    side_of_page,
)
from panelscan.model.units import inch_to_mm

__all__ = [
    "BUILT_IN",
    "PRINTER_DECIDES",
    "US_PRINT",
    "BoardFit",
    "Box",
    "PageFormat",
    "PageSide",
    "board_fit",
    "format_named",
    "side_of_page",
]


def _centred(outer: tuple[float, float], inner: tuple[float, float]) -> Box:
    """Margins that put `inner` in the middle of `outer`."""
    x, y = (outer[0] - inner[0]) / 2, (outer[1] - inner[1]) / 2
    return x, y, x, y


US_PRINT = PageFormat(
    name="us-print",
    title="US comic, print size",
    trim_mm=(inch_to_mm(6.625), inch_to_mm(10.25)),
    bleed_mm=inch_to_mm(0.125),
    live_mm=(inch_to_mm(0.3125), inch_to_mm(0.5), inch_to_mm(0.3125), inch_to_mm(0.75)),
    tier_gutter_mm=3.0,
    column_gutter_mm=3.0,
    border_mm=0.5,
    standing="practice: printers' sheets",
)
_US_SCALE = 0.65  # a 10 x 15 in live box reduced to 65 % lets a bleed fit an 11 x 17 in board
_US_BOARD_TRIM = (US_PRINT.trim_mm[0] / _US_SCALE, US_PRINT.trim_mm[1] / _US_SCALE)
_US_BOARD = PageFormat(
    name="us-board",
    title="US comic, original on an 11 x 17 in board",
    trim_mm=_US_BOARD_TRIM,
    bleed_mm=US_PRINT.bleed_mm / _US_SCALE,
    live_mm=_centred(_US_BOARD_TRIM, (inch_to_mm(10), inch_to_mm(15))),
    tier_gutter_mm=inch_to_mm(3 / 16),
    column_gutter_mm=inch_to_mm(3 / 16),
    border_mm=0.8,
    board_mm=(inch_to_mm(11), inch_to_mm(17)),
    standing="board: standard ANSI/ASME Y14.1 size B; live box 10 x 15 in and reduction to "
    "65 %: practice",
    reduction=_US_SCALE,
)


def _page(
    name: str,
    title: str,
    trim: tuple[float, float],
    live: tuple[float, float],
    standing: str,
    bleed: float = 3.0,
    gutters: tuple[float, float] = (4.0, 4.0),
    border: float = 0.6,
    **more: Any,
) -> PageFormat:
    """Format whose live area lies in the middle of the trim; gutters are (tier, column)."""
    return PageFormat(
        name, title, trim, bleed, _centred(trim, live), *gutters, border, standing=standing, **more
    )


_ISO = "standard: ISO 216 (trim); live area, bleed and gutters: practice"
_JIS = "standard: JIS P 0138 (sheet); frames, bleed and gutters: practice"
_ALL = (
    US_PRINT,
    _US_BOARD,
    _page("a4", "A4", (210, 297), (180, 260), _ISO),
    _page("a5", "A5", (148, 210), (122, 182), _ISO, gutters=(3.0, 3.0), border=0.5),
    _page(
        "jis-b4",
        "JIS B4 manuscript sheet",
        (220, 310),
        (180, 270),
        _JIS,
        bleed=5.0,
        gutters=(7.0, 3.0),
        border=0.8,
        board_mm=(257, 364),
        reduction=182 / 220,
    ),
    _page(
        "jis-b5",
        "JIS B5",
        (182, 257),
        (150, 220),
        _JIS,
        gutters=(6.0, 2.5),
        border=0.6,
        safe_mm=_centred((182, 257), (162, 237)),
    ),
    _page("iso-b5", "ISO B5", (176, 250), (148, 220), _ISO),
    _page(
        "album", "Album, hardback", (225, 300), (195, 265), "practice: album printers", border=0.7
    ),
    _page("square", "Square book", (210, 210), (182, 182), "practice: no source"),
    _page(
        "wide", "16:9 page for the screen", (320, 180), (304, 164), "practice: no source", bleed=0.0
    ),
    _page(
        "strip",
        "Vertical strip for the screen, one stretch",
        (90, 360),
        (84, 352),
        "practice: no source",
        bleed=0.0,
        gutters=(12.0, 3.0),
        border=0.5,
        least_ppi=200.0,
    ),
)
BUILT_IN: dict[str, PageFormat] = {page.name: page for page in _ALL}
_TWO_FAMILIES = {"b4": ("jis-b4",), "b5": ("jis-b5", "iso-b5")}


def format_named(name: str, more: Mapping[str, PageFormat] | None = None) -> PageFormat:
    """Page format of that name: one from `more` (a TOML file's), else one built in.

    Parameters
    ----------
    name : str
        E.g. ``"us-print"``; ``"us-print-spread"`` gives both pages of a spread.
    more : mapping of str to PageFormat, optional
        Formats of the artist's own, which win over those built in.

    Raises
    ------
    NothingFound
        If there is none; says which exist.

    Examples
    --------
    >>> format_named("jis-b5").trim_mm, format_named("ISO-B5").trim_mm
    ((182, 257), (176, 250))
    """
    known = {**BUILT_IN, **(more or {})}
    key = name.strip().lower().replace(" ", "-").replace("_", "-")
    if key in known:
        return known[key]
    if key.endswith("-spread") and key.removesuffix("-spread") in known:
        return known[key.removesuffix("-spread")].as_spread()
    choices = _TWO_FAMILIES.get(key)
    if choices:
        sizes = ", ".join(f"{c} ({_size(known[c])})" for c in choices)
        raise NothingFound(
            f"{name!r} is not one size: B sheets differ between JIS (Japan) and ISO.",
            f"Say which you mean: {sizes}.",
        )
    listed = ", ".join(f"{page.name} ({_size(page)})" for page in known.values())
    raise NothingFound(
        f"There is no page format called {name!r}.",
        f"There are: {listed}. Note that B5 differs between JIS and ISO. "
        "Other sizes can be given in a TOML file.",
    )


def _size(page: PageFormat) -> str:
    return f"{page.trim_mm[0]:g} x {page.trim_mm[1]:g} mm"
