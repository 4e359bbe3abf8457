"""``panelscan info``: what a library holds, its health, versions; tidying it."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from panelscan.cli import options
from panelscan.cli.console import print_json, print_table, say
from panelscan.errors import LibraryError

if TYPE_CHECKING:
    from panelscan.corpus.accuracy import Accuracy, Share
    from panelscan.corpus.store import Library
    from panelscan.corpus.summary import Summary


@click.command()
@options.library_needed
@click.option("--verify", "verify_it", is_flag=True,
              help="Look over every file: hashes, geometry, agreement of the tables.")
@click.option("--set-aside", "aside", is_flag=True,
              help="With --verify: move damaged files away, to scan their books again.")
@click.option("--disagreements", is_flag=True,
              help="What the newest scans would say differently of pages that you put right.")
@click.option("--accuracy", "accuracy_wanted", is_flag=True,
              help="How right panelscan is on your own pages, from those you reviewed.")
@click.option("--same-pages", is_flag=True,
              help="Find pages scanned twice or in two stages, and link them.")
@click.option("--liking", "liking", is_flag=True,
              help="What your ratings and past choices do to the ranking of find and plan.")
@click.option("--forget-choices", is_flag=True,
              help="Take back that grids were taken for templates; ratings stay.")
@click.option("--compact", "compact_it", is_flag=True, help="Put many small files together.")
@click.option("--forget", metavar="BOOK", help="Take a book's pages out of the library.")
@options.as_json
def command(
    library: Path, verify_it: bool, aside: bool, disagreements: bool, accuracy_wanted: bool,
    same_pages: bool, liking: bool, forget_choices: bool, compact_it: bool, forget: str | None,
    as_json: bool,
) -> int:
    r"""Tell what a library holds: counts, health, doubtful pages, versions, space.

    \b
    Examples:
      panelscan info --library shelf
      panelscan info --library shelf --verify
    """
    from panelscan.corpus.store import Library
    from panelscan.corpus.summary import summarise

    shelf = Library.open(library)
    if verify_it:
        return _verify(shelf, as_json, aside)
    if disagreements:
        return _disagreements(shelf, as_json)
    if accuracy_wanted:
        return _accuracy(shelf, as_json)
    if liking or forget_choices:
        from panelscan.cli.liking import forget_all_choices, list_likings

        if forget_choices:
            forget_all_choices(shelf)
        if liking:
            list_likings(shelf, as_json)
        return 0
    if same_pages or compact_it or forget:
        _tidy(shelf, same_pages, compact_it, forget)
        return 0
    summary = summarise(shelf)
    if as_json:
        print_json(asdict(summary) | {"bytes": summary.bytes})
    else:
        _print(summary)
    return 0


def _print(summary: Summary) -> None:
    rows: list[tuple[str, Any]] = [
        ("books", summary.books),
        ("pages", summary.pages),
        ("panels", summary.panels),
        ("gutters", summary.gutters),
        ("same page again (counted once)", summary.same_pages),
        ("doubtful, not yet reviewed", summary.doubtful_count),
        ("reviewed", summary.reviewed),
        ("with corrections", summary.corrected),
        ("without resolution", summary.without_resolution),
        ("labels", summary.labels),
        ("space, MB", f"{summary.bytes / 1e6:.1f}"),
        ("files", summary.files),
        ("library version", summary.schema_version),
    ]
    rows += [(f"pages found by {name}", count) for name, count in summary.detectors.items()]
    rows += [(f"pages read {name}", count) for name, count in summary.directions.items()]
    rows += [
        (f"pages whose direction is known: {how}", count)
        for how, count in summary.directions_known.items()
    ]
    print_table("The library", ("What", "Count"), rows, right=(1,))
    if summary.doubtful:
        doubtful = [
            (f"{d.book}/{d.page_number}", f"{d.confidence:.2f}", d.source_path)
            for d in summary.doubtful
        ]
        print_table("Most doubtful pages", ("Page", "Confidence", "File"), doubtful, right=(1,))
    for line in summary.advice:
        say(line)


def _verify(shelf: Library, as_json: bool, aside: bool) -> int:
    from panelscan.corpus.verify import set_aside, verify

    found = verify(shelf)
    if aside and found.faults:
        books = set_aside(shelf, found.faults)
        say(f"Set aside, to be scanned again: {', '.join(books) or 'nothing'}.")
    if as_json:
        print_json(asdict(found))
    else:
        say(f"{found.files} files, {found.pages} pages, {found.panels} panels looked over.")
        rows = [(f.file, f.text, f.remedy) for f in found.faults]
        if rows:
            print_table("What is wrong", ("File", "What", "What to do"), rows)
        else:
            say("Everything is as it should be.")
    return LibraryError.exit_code if found.faults else 0


def _disagreements(shelf: Library, as_json: bool) -> int:
    from panelscan.corpus.amend import disagreements

    told = disagreements(shelf)
    if as_json:
        print_json([asdict(d) | {"text": d.text} for d in told])
        return 0
    for one in told:
        say(one.text)
    if not told:
        say("The newest scans agree with everything that you put right.")
    return 0


def _accuracy(shelf: Library, as_json: bool) -> int:
    from panelscan.corpus.accuracy import accuracy

    measured = accuracy(shelf)
    if measured is None:
        say("No page was reviewed yet: look some over with panelscan review first.", level=-1)
        return 9
    if as_json:
        print_json(asdict(measured))
        return 0
    _print_accuracy(measured)
    return 0


def _print_accuracy(measured: Accuracy) -> None:
    rows = [(f"F1 of panels at IoU {t:g}", _share(s)) for t, s in measured.f1.items()]
    rows += [
        ("pages right as a whole at IoU 0.9", _share(measured.page_exact)),
        ("right order where the panels are right", _share(measured.order_exact)),
    ]
    title = f"On {measured.pages} reviewed pages with {measured.panels} panels"
    print_table(title, ("What", "Share (95 % interval)"), rows)
    say("Reviewed pages are mostly the doubtful ones, so the whole library fares rather better.")


def _share(share: Share) -> str:
    if share.value != share.value:
        return "no page to tell from"
    return f"{share.value:.3f} ({share.low:.3f} to {share.high:.3f})"


def _tidy(shelf: Library, same_pages: bool, compact_it: bool, forget: str | None) -> None:
    if same_pages:
        from panelscan.corpus.sameness import link_same_pages

        links = link_same_pages(shelf)
        rows = [(link.page_a, link.page_b, link.kind) for link in links]
        print_table("The same page", ("Page", "Other", "As"), rows)
        say(f"{len(links)} links; linked pages count once in the habits.")
    if compact_it:
        from panelscan.corpus.packs import compact

        done = compact(shelf)
        say(
            f"{done.books} small books put together in {done.packs} packs; files of each table:"
            f" {done.files_before} before, {done.files_after} now."
        )
    if forget:
        gone = shelf.forget_book(forget)
        say(f"{gone} pages of “{forget}” left the library; corrections and labels are kept.")
