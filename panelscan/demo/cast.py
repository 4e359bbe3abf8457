"""The people, cats and machines of a book: how each one looks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelscan.demo.hands import SKINS, Palette
from panelscan.demo.raster import RGB


@dataclass(frozen=True)
class Character:
    """One of a book's cast.

    Parameters
    ----------
    name : str
        Name in the story.
    kind : str
        ``"person"``, ``"cat"`` or ``"machine"``.
    skin, hair, coat, legs : tuple of int
        Colours.
    hair_cut : str
        ``"bob"``, ``"spikes"``, ``"bun"``, ``"long"``, ``"cap"`` or ``"hood"``.
    scarf : bool
        Wears a scarf that blows in the wind.
    skirt : bool
        Wears a long skirt or robe.
    build : float
        Breadth, 1 usual.
    """

    name: str
    kind: str
    skin: RGB
    hair: RGB
    coat: RGB
    legs: RGB
    hair_cut: str
    scarf: bool = False
    skirt: bool = False
    build: float = 1.0


HAIRS: tuple[RGB, ...] = (
    (48, 40, 44), (206, 104, 48), (232, 196, 112), (104, 66, 44), (214, 214, 218), (92, 52, 92),
)  # fmt: skip
CUTS = ("bob", "spikes", "bun", "long", "cap", "hood")


def make_cast(rng: np.random.Generator, palette: Palette, count: int = 4) -> list[Character]:
    """A cast of different characters for a book."""
    cuts = list(rng.permutation(CUTS))
    coats = [palette.accent, palette.dark, palette.near, palette.wood, palette.light, palette.far]
    kinds = ["person", "person", "person", "cat", "machine", "person"]
    cast = []
    for k in range(count):
        cast.append(
            Character(
                name=f"figure {k}",
                kind=kinds[k] if k < 2 else str(rng.choice(kinds)),
                skin=SKINS[int(rng.integers(len(SKINS)))],
                hair=HAIRS[int(rng.integers(len(HAIRS)))],
                coat=coats[k % len(coats)],
                legs=coats[(k + 2) % len(coats)],
                hair_cut=str(cuts[k % len(cuts)]),
                scarf=bool(rng.random() < 0.4),
                skirt=bool(rng.random() < 0.35),
                build=float(rng.uniform(0.85, 1.3)),
            )
        )
    return cast
