"""What happens in the panels of a written page: place, people, lettering."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Shot:
    """One panel of a script.

    Parameters
    ----------
    scene : str
        A key of `panelscan.demo.scenes.SCENES`.
    who : tuple of str
        Who is seen, from left to right (reading side first).
    size : str
        ``"long"``, ``"medium"`` or ``"close"``.
    lines : tuple of (str, str)
        Speaker and text, in the order they are read.
    caption, title, effect : str
        Caption box, big title (lines parted by ``|``) and sound effect.
    pose, mood : str
        Of the first figure.
    burst : bool
        The first figure breaks out of the panel.
    """

    scene: str
    who: tuple[str, ...] = ()
    size: str = "medium"
    lines: tuple[tuple[str, str], ...] = ()
    caption: str = ""
    title: str = ""
    effect: str = ""
    pose: str = ""
    mood: str = ""
    burst: bool = False


@dataclass(frozen=True)
class PageScript:
    """One page of a script.

    Parameters
    ----------
    tiers : tuple of int
        Panels per tier, from the top; insets not counted.
    shots : tuple of Shot
        One per panel, insets after their host.
    traits : frozenset of str
        What is special: ``"slanted"``, ``"hand"``, ``"bare"`` (no borders), ``"black"``,
        ``"shared"`` (one line between panels), ``"round"``, ``"open"``, ``"splash"``,
        ``"inset"``, ``"overlap"``, ``"stack"``, ``"bleed-top"`` and the other edges,
        ``"memory"`` (coloured pencil).
    wear : str
        ``""`` clean, ``"scan"``, ``"poor"`` or ``"photo"``.
    sheet : str
        ``""`` a page of its own, ``"left"`` and ``"right"`` halves of one picture, or
        ``"double"``: one picture across two pages.
    """

    tiers: tuple[int, ...]
    shots: tuple[Shot, ...]
    traits: frozenset[str] = field(default_factory=frozenset)
    wear: str = ""
    sheet: str = ""
