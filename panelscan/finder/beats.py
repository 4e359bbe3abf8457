"""A scene as beats: what happens, how much is said, how much room it should take."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum


class Weight(StrEnum):
    """How much a beat weighs in the scene, and so how large its panel should be."""

    SMALL = "small"
    NORMAL = "normal"
    BIG = "big"


class Shot(StrEnum):
    """How near the view is; ``ANY`` where the writer left it open."""

    ANY = "any"
    ESTABLISHING = "establishing"
    LONG = "long"
    MEDIUM = "medium"
    CLOSE_UP = "close-up"
    DETAIL = "detail"


class Shape(StrEnum):
    """Shape asked for; ``ANY`` where the writer left it open."""

    ANY = "any"
    WIDE = "wide"
    TALL = "tall"


_WEIGHTS = (Weight.SMALL, Weight.NORMAL, Weight.BIG)


@dataclass(frozen=True, slots=True)
class Beat:
    """One beat of a scene.

    Parameters
    ----------
    text : str
        What happens.
    words : int
        Words of lettering, balloons and captions together.
    balloons : tuple of int
        Words in each balloon or caption, where the lettering itself was written out.
    weight, shot, shape : Weight, Shot, Shape
        How large, how near, and in which shape.
    silent : bool
        Nothing is said and nothing may be.
    reveal : bool
        Has to be seen first after a page turn.
    keep_with_next : bool
        No page turn may fall between this beat and the next.
    line : int
        Line of the scene file, from 1; 0 where there is none.

    Examples
    --------
    >>> Beat("She runs", words=4).joined(Beat("He falls", words=5, weight=Weight.BIG)).words
    9
    """

    text: str
    words: int = 0
    balloons: tuple[int, ...] = ()
    weight: Weight = Weight.NORMAL
    shot: Shot = Shot.ANY
    shape: Shape = Shape.ANY
    silent: bool = False
    reveal: bool = False
    keep_with_next: bool = False
    line: int = 0

    def __post_init__(self) -> None:
        if self.words < 0:
            raise ValueError("a beat cannot have fewer than no words")
        if self.silent and self.words:
            raise ValueError("a silent beat has no words")

    def joined(self, following: Beat) -> Beat:
        """Both beats in one panel: words add up, the heavier weight and the wider view count."""
        heavier = max(self.weight, following.weight, key=_WEIGHTS.index)
        return replace(
            self,
            text=f"{self.text} / {following.text}",
            words=self.words + following.words,
            balloons=self.balloons + following.balloons,
            weight=Weight.NORMAL if heavier is Weight.SMALL else heavier,
            shot=_wider(self.shot, following.shot),
            shape=self.shape if self.shape is not Shape.ANY else following.shape,
            silent=self.silent and following.silent,
            keep_with_next=following.keep_with_next,
        )


@dataclass(frozen=True, slots=True)
class Scene:
    """Beats in order, and where they were read from.

    Parameters
    ----------
    beats : tuple of Beat
        In order of the story.
    source : str
        File name, for messages.
    notes : tuple of str
        What was taken for granted while reading.
    """

    beats: tuple[Beat, ...]
    source: str = "scene"
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.beats)

    @property
    def words(self) -> int:
        """Words of the whole scene."""
        return sum(beat.words for beat in self.beats)


def _wider(a: Shot, b: Shot) -> Shot:
    """The view that takes in more; an open one gives way."""
    order = list(Shot)
    named = [s for s in (a, b) if s is not Shot.ANY]
    return min(named, key=order.index) if named else Shot.ANY
