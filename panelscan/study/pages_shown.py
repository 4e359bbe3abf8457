"""Small redrawn pages of the report: fetched once, named, linked to their large picture."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

import numpy as np

from panelscan.study.miniature import grid_picture
from panelscan.study.plotting import page_aspect
from panelscan.study.shelf import Shelf

LARGE = 320.0


class PagesShown:
    """Pages that the report draws.

    Parameters
    ----------
    shelf : Shelf
        The pages studied.
    ids : iterable of str
        Those to be drawn.
    """

    def __init__(self, shelf: Shelf, ids: Iterable[str]) -> None:
        import pandas as pd

        self.ids = tuple(dict.fromkeys(ids))
        place = pd.Index(shelf.pages["page_id"]).get_indexer(pd.Index(self.ids))
        self._rows = {
            page_id: shelf.pages.iloc[k]
            for page_id, k in zip(self.ids, place.tolist(), strict=True)
            if k >= 0
        }
        self._rings = shelf.source.outlines(self.ids)
        self._aspect = page_aspect(shelf)
        self._one_book = len(shelf.books) == 1
        self._names = {} if shelf.stages is None else _stage_names(shelf)

    def name(self, page_id: str) -> str:
        """How people call the page."""
        row = self._rows.get(page_id)
        if row is None:
            return self._names.get(page_id, page_id)
        number = f"page {int(row['page_number'])}"
        return number if self._one_book else f"{row['book']}, {number}"

    def mini(self, page_id: str, words: str, marked: frozenset[int] = frozenset()) -> str:
        """List item: the page small, a link to its large picture, and what it shows."""
        name = self.name(page_id)
        picture = self.picture(page_id, name, marked=marked)
        return (
            f'<li><a href="#page-{escape(page_id)}">{picture}</a>'
            f"<strong>{escape(words)}</strong><br>{escape(name)}</li>"
        )

    def picture(
        self,
        page_id: str,
        title: str,
        numbered: bool = True,
        height: float = 150.0,
        marked: frozenset[int] = frozenset(),
    ) -> str:
        """The page's grid as SVG."""
        rings = [ring.tolist() for ring in self._rings.get(page_id, [])]
        row = self._rows.get(page_id)
        told = float("nan") if row is None or row["aspect"] is None else float(row["aspect"])
        aspect = told if np.isfinite(told) else self._aspect
        return grid_picture(title, rings, aspect, numbered, height, marked).source()

    def gallery(self) -> str:
        """Every page large, with its file."""
        parts = [self._large(page_id) for page_id in self.ids]
        return (
            f'<h2 id="pages-shown">Pages shown</h2><div class="pairs pages">{"".join(parts)}</div>'
        )

    def _large(self, page_id: str) -> str:
        row, name = self._rows.get(page_id), self.name(page_id)
        told = ""
        if row is not None:
            count = int(row["panel_count"])
            many = "one panel" if count == 1 else f"{count} panels"
            told = (
                f": {many}, tiers {escape(str(row['tier_pattern']))}<br>"
                f"<small>{escape(str(row['source_path']))}</small>"
            )
        return (
            f'<section id="page-{escape(page_id)}" class="page"><figure>'
            f"{self.picture(page_id, name, height=LARGE)}"
            f"<figcaption>{escape(name)}{told}</figcaption></figure></section>"
        )


def _stage_names(shelf: Shelf) -> dict[str, str]:
    assert shelf.stages is not None  # noqa: S101 - asked only where there are stages
    pages = shelf.stages.pages
    told = zip(pages["page_id"], pages["book"], pages["page_number"], pages["stage"], strict=True)
    return {str(i): f"{book}, page {int(number)} ({stage})" for i, book, number, stage in told}
