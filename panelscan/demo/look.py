"""How the pages of one book look."""

from __future__ import annotations

from dataclasses import dataclass

from panelscan.demo.cast import Character
from panelscan.demo.hands import Hand, Palette
from panelscan.demo.raster import RGB


@dataclass(frozen=True, eq=False)
class Look:
    """How the pages of one book look.

    Parameters
    ----------
    hand : Hand
        Who draws.
    style : str
        In which medium.
    palettes : tuple of Palette
        Colours; a page takes one of them.
    cast : tuple of Character
        Who appears.
    ground : tuple of int
        Colour of the paper between the panels.
    ground_to : tuple of int or None
        Second colour of a graded ground.
    border_rgb : tuple of int
        Colour of the borders.
    border_px : float
        Width of ruled borders on a page 2,000 px high.
    halo_px : float
        Width of a band of ground colour round panels that lie over others.
    burst, spill, decoys, effects, talk : float
        Chances that a figure breaks out of its panel, that a balloon opens into the gutter
        or crosses it, of a scene full of shapes parallel to the borders, of a sound effect,
        and of balloons in a panel.
    lettering : float
        Size of the lettering, 1 for capitals of about 2 mm in print.
    level : float
        Share of places that are seen square on, their lines parallel to the borders.
    avoid : tuple of str
        Scenes that would not show their edge on this ground.
    rtl : bool
        Whether the book is read right to left: lettering then starts at a panel's right.
    """

    hand: Hand
    style: str
    palettes: tuple[Palette, ...]
    cast: tuple[Character, ...]
    ground: RGB = (255, 255, 255)
    ground_to: RGB | None = None
    border_rgb: RGB = (16, 16, 18)
    border_px: float = 4.0
    halo_px: float = 0.0
    burst: float = 0.06
    spill: float = 0.1
    decoys: float = 0.35
    effects: float = 0.12
    talk: float = 0.75
    lettering: float = 1.0
    level: float = 0.35
    avoid: tuple[str, ...] = ()
    rtl: bool = False
