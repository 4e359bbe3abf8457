"""What a page has to have: an artist's requirements, as one value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from panelscan.errors import UsageError

Span = tuple[int | None, int | None]


@dataclass(frozen=True)
class Brief:
    """Requirements; what is None or empty is not asked for, and all that is asked must hold.

    Parameters
    ----------
    panels, tiers : (least, most) or None
        Numbers, each end included; None leaves an end open.
    wide_at, tall_at, big_at : tuple of int
        Places in the reading order, from 1, with a wide panel (at least 1.6 times as wide as
        high), a tall one (at least 1.33 times as high as wide), or one that takes at least
        a quarter of the page's panel area.
    full_tier_at : tuple of int
        Places with a panel that spans the page's panels from left to right.
    splash : bool or None
        The page is one picture, or is not.
    bleeds : bool or None
        Some panel runs off the page, or none does.
    slants : bool or None
        Some panel is slanted (more than 2 degrees), or none is.
    insets : bool or None
        Some panel is inset in another, or none is.
    least_words : int or None
        Every panel holds at least so many words by the trade's rule of thumb.
    words_at : tuple of (place, words)
        The panel at a place holds at least so many words.
    free_top_share : float or None
        Every panel has at least this calm strip at its top, as a share of its height; pages
        on which nobody looked do not count.
    side : str or None
        ``"left"`` or ``"right"``: side of the open book.
    clarity : float or None
        Readers follow the order at least this surely, 0..1.
    aspect : float or None
        Width of the page divided by its height, within 5 %.
    size_mm : (width, height) or None
        Page format, within 5 % each way; pages of unknown size do not count.
    labels : mapping of str to str
        Labels that the page or its book must have, overlooking upper and lower case.
    rating : int or None
        The artist rated the page at least so high, 1 to 5.
    unused_for : int or None
        The grid was not used on the last so many pages of `unused_in` (before `unused_before`).
    unused_in : str
        Book meant by `unused_for`; the last book of the library by name where empty.
    unused_before : int or None
        Page number that the new page will have; after the book's last page where None.

    Raises
    ------
    UsageError
        If a requirement contradicts itself.

    Examples
    --------
    >>> Brief(panels=(5, 7), wide_at=(1,)).asked
    ('panels', 'wide_at')
    """

    panels: Span | None = None
    tiers: Span | None = None
    wide_at: tuple[int, ...] = ()
    tall_at: tuple[int, ...] = ()
    big_at: tuple[int, ...] = ()
    full_tier_at: tuple[int, ...] = ()
    splash: bool | None = None
    bleeds: bool | None = None
    slants: bool | None = None
    insets: bool | None = None
    least_words: int | None = None
    words_at: tuple[tuple[int, int], ...] = ()
    free_top_share: float | None = None
    side: str | None = None
    clarity: float | None = None
    aspect: float | None = None
    size_mm: tuple[float, float] | None = None
    labels: Mapping[str, str] = field(default_factory=dict)
    rating: int | None = None
    unused_for: int | None = None
    unused_in: str = ""
    unused_before: int | None = None

    def __post_init__(self) -> None:
        for name in ("panels", "tiers"):
            least, most = getattr(self, name) or (None, None)
            if least is not None and most is not None and least > most:
                raise UsageError(f"{name}: {least} is more than {most}.", "Give the smaller first.")
        places = (
            *self.wide_at,
            *self.tall_at,
            *self.big_at,
            *self.full_tier_at,
            *(p for p, _ in self.words_at),
        )
        if any(place < 1 for place in places):
            raise UsageError("Places in the reading order count from 1.")
        both = set(self.wide_at) & set(self.tall_at)
        if both:
            raise UsageError(f"Panel {min(both)} cannot be wide and tall.", "Ask for one of them.")
        if self.side not in (None, "left", "right"):
            raise UsageError(f"'{self.side}' is no side of a book.", "Say left or right.")
        for name in ("clarity", "free_top_share"):
            value = getattr(self, name)
            if value is not None and not 0 <= value <= 1:
                raise UsageError(f"{name} is a share from 0 to 1.")
        if self.rating is not None and not 1 <= self.rating <= 5:
            raise UsageError("A rating is a number from 1 to 5.")

    @property
    def asked(self) -> tuple[str, ...]:
        """Names of the requirements that are asked for."""
        plain = Brief.__dataclass_fields__
        names = [n for n in plain if n not in ("unused_in", "unused_before")]
        return tuple(n for n in names if getattr(self, n) not in (None, (), {}))
