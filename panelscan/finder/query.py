"""A question to the library, and its answer."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from panelscan.finder.beats import Scene
from panelscan.finder.brief import Brief
from panelscan.finder.hits import Hit
from panelscan.model.grid import Grid


@dataclass(frozen=True)
class Query:
    """What is looked for; parts that are None are not asked for.

    Parameters
    ----------
    like : Grid or None
        An example.
    written : str
        A written grid or pattern.
    hand : str
        Id of a page: pages that look laid out by the same hand, whatever their grid.
    brief : Brief
        Requirements.
    scene : Scene or None
        Beats for one page.
    where : str
        Filter of the library (``--where``).
    count : int
        Pages wanted.
    mirrors : bool
        Whether mirror images of the example count, named as such.
    near : bool
        Whether near misses of a written grid count, named as such.
    each_grid_once : bool or None
        Show only the best of pages with the same grid; None: unless an example or a hand is
        given.
    use_liking : bool
        Let ratings and past choices move the order.
    skip : tuple of str
        Page ids that are not shown (the example's own page).
    """

    like: Grid | None = None
    written: str = ""
    hand: str = ""
    brief: Brief = field(default_factory=Brief)
    scene: Scene | None = None
    where: str = ""
    count: int = 10
    mirrors: bool = True
    near: bool = True
    each_grid_once: bool | None = None
    use_liking: bool = True
    skip: tuple[str, ...] = ()


@dataclass(frozen=True)
class Answer:
    """What was found.

    Parameters
    ----------
    hits : tuple of Hit
        Best first.
    looked_at : int
        Pages in the library.
    meeting : int
        Pages that meet all requirements.
    excluded : tuple of (requirement, pages left out, pages that would be left without it)
        The requirement that stands most in the way first.
    notes : tuple of str
        Advice on the question itself.
    query : Query
        The question.
    """

    hits: tuple[Hit, ...]
    looked_at: int
    meeting: int
    excluded: tuple[tuple[str, int, int], ...] = ()
    notes: tuple[str, ...] = ()
    query: Query = field(default_factory=Query)

    @property
    def why_empty(self) -> str:
        """One or two sentences on why nothing was found; empty where something was."""
        if self.hits:
            return ""
        if not self.looked_at:
            return "The library has no page with panels yet. Scan some first."
        if not self.excluded or self.meeting:
            return f"None of the {max(self.meeting, 0)} pages looked at comes near."
        name, out, left = self.excluded[0]
        if left:
            return (
                f"No page has all of that. What excludes most is “{name}”: without it "
                f"{left} page{'s' if left > 1 else ''} would be found."
            )
        name, out, _ = max(self.excluded, key=lambda e: e[1])
        return (
            f"No page has all of that. What excludes most is “{name}”: {out} of "
            f"{self.looked_at} pages lack it, and no single requirement is to blame alone."
        )

    def to_json(self) -> dict[str, Any]:
        """Plain values for a JSON file."""
        return {
            "hits": [h.to_json() for h in self.hits],
            "looked_at": self.looked_at,
            "meeting": self.meeting,
            "excluded": [
                {"requirement": n, "leaves_out": out, "left_without_it": left}
                for n, out, left in self.excluded
            ],
            "why_empty": self.why_empty,
            "notes": list(self.notes),
        }
