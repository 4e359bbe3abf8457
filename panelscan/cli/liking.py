"""``panelscan info --liking``: what ratings and past choices do to the ranking, and undoing it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelscan.cli.console import print_json, print_table, say

if TYPE_CHECKING:
    from panelscan.corpus.store import Library
    from panelscan.finder.ranking import Liking


def list_likings(shelf: Library, as_json: bool) -> None:
    """Pages with a rating or a choice, those moved farthest up first."""
    told = _named(shelf)
    if as_json:
        print_json(
            [
                {"page": name, "rating": one.rating, "taken": one.chosen,
                 "moved": round(one.move, 5)}
                for name, one in told
            ]
        )  # fmt: skip
        return
    if not told:
        say("No page is rated and no grid was taken yet: nothing moves the ranking.")
        return
    rows = [(name, one.rating, one.chosen or None, _moved(one.move)) for name, one in told]
    header = ("Page", "Rating", "Times taken", "Moved in find")
    print_table("What moves the ranking", header, rows, right=(1, 2, 3))
    say("Take one back: panelscan tag BOOK/NUMBER chosen=- (or rating=-) --library …")
    say("Take all choices back: panelscan info --forget-choices --library …")
    say("Leave all out for once: panelscan find --no-liking …")


def forget_all_choices(shelf: Library) -> None:
    """Take every choice back; ratings stay."""
    from panelscan.finder.ranking import forget_choices

    count = forget_choices(shelf, [page for page, _ in _likings(shelf)])
    say(f"{count} pages are no longer moved by having been taken. Ratings stay.")


def _likings(shelf: Library) -> list[tuple[str, Liking]]:
    from panelscan.corpus.labels import labels_now
    from panelscan.finder.ranking import likings

    return list(likings(labels_now(shelf.place)).items())


def _named(shelf: Library) -> list[tuple[str, Liking]]:
    """Likings by the pages' names; a page that left the library goes by its id."""
    from panelscan.corpus.naming import named_pages

    names = {page: f"{book}/{number}" for (book, number), page in named_pages(shelf).items()}
    told = [(names.get(page, page), one) for page, one in _likings(shelf)]
    return sorted(told, key=lambda each: (each[1].move, each[0]))


def _moved(move: float) -> str:
    if not move:
        return "not at all"
    return f"{'up' if move < 0 else 'down'} {abs(move):.3f}"
