"""Kill a program that writes to a library, at random instants, and look what is left.

    python scripts/crash_library.py --kills 200
    python scripts/crash_library.py --kills 20      short, as the tests run it

A child commits small made-up books, corrects a page and compacts, over and over, and notes
each finished act in a file. It is ended by SIGKILL at a random instant. Then the library must
hold every finished act, each book whole and in one version in all three tables, read by
panelscan and (table by table) by pandas alone, without anything to clear up by hand.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import pandas as pd

from panelscan.corpus.corrections import read_log
from panelscan.corpus.packs import compact
from panelscan.corpus.storage import WORK, FolderPlace
from panelscan.corpus.store import Library
from panelscan.model.correction import SetDirection
from panelscan.model.page import ReadingDirection
from tests.corpus.made_up import make_record

BOOKS = ("Salt", "Tin", "Kelp")
PAGES = 2


def book_of_version(book: str, version: int):
    """Pages whose tables all tell their version: by detector, confidence and panel count."""
    records = []
    for number in range(1, PAGES + 1):
        record = make_record(book, number, [2] * (1 + version % 3), detector=f"v{version}")
        panels = tuple(replace(p, confidence=version / 1e6) for p in record.finding.panels)
        records.append(replace(record, finding=replace(record.finding, panels=panels)))
    return records


def act(folder: str, notes: str, seed: int, first: int) -> None:
    """Write to the library until killed."""
    rng = random.Random(seed)
    library = Library.open_or_create(folder)
    version = first
    with Path(notes).open("a", encoding="utf-8", buffering=1) as told:
        while True:
            version += 1
            book = rng.choice(BOOKS)
            library.commit_book(book, book_of_version(book, version))
            told.write(f"commit {book} {version}\n")
            if rng.random() < 0.25:
                page_id = make_record(book, 1).ref.page_id
                state = library.page(page_id, book)
                way = rng.choice(list(ReadingDirection))
                settled = rng.random() < 0.5
                revision = library.correct(
                    page_id, SetDirection(way), state.revision, who="Ada", settled=settled
                )
                told.write(f"correct {page_id} {revision}\n")
            if rng.random() < 0.15:
                compact(library, most_pages=8)


def faults(folder: Path, notes: Path) -> list[str]:
    """What is wrong with the library after a kill."""
    done = [line.split() for line in notes.read_text(encoding="utf-8").splitlines()]
    done = [words for words in done if len(words) == 3]
    found = []
    for table in ("pages", "panels", "gutters"):
        if any((folder / table).glob("*.parquet")):
            pd.read_parquet(folder / table)  # before recovery: every file must be whole
    library = Library.open(folder)
    rows = library.tables({"pages": None, "panels": None, "gutters": None})
    pages, panels = rows["pages"].to_pandas(), rows["panels"].to_pandas()
    gutters = rows["gutters"].to_pandas()
    if pages["page_id"].duplicated().any():
        found.append("a page stands twice")
    for book in BOOKS:
        versions = {int(d[1:]) for d in pages.loc[pages["book"] == book, "detector"]}
        last = max([int(w[2]) for w in done if w[0] == "commit" and w[1] == book], default=None)
        if last is None and not versions:
            continue
        if len(versions) != 1 or (pages["book"] == book).sum() != PAGES:
            found.append(f"{book}: half a book, versions {versions}")
            continue
        version = versions.pop()
        if last is not None and version < last:
            found.append(f"{book}: version {last} was saved, {version} is there")
        own = panels.loc[panels["book"] == book]
        if {round(c * 1e6) for c in own["confidence"]} != {version}:
            found.append(f"{book}: panels of another version than the pages")
        tiers = 1 + version % 3
        if len(own) != PAGES * 2 * tiers or (gutters["book"] == book).sum() == 0:
            found.append(f"{book}: panels or gutters missing")
    for words in done:
        if words[0] == "correct":
            log = read_log(library.place, words[1])
            if log is None or log.revision < int(words[2]):
                found.append(f"correction {words[2]} of {words[1]} is lost")
    with library.writing("looking"):
        left = [n for n in FolderPlace(folder).names(WORK) if n != "write.lock"]
    if left:
        found.append(f"left behind: {left}")
    return found


def run(kills: int, seed: int) -> int:
    """Kill as often as asked; returns the number of kills after which something was wrong."""
    way = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    context = multiprocessing.get_context(way)
    if way == "forkserver":
        context.set_forkserver_preload(["panelscan.corpus.store", "tests.corpus.made_up"])
    rng = random.Random(seed)
    folder = Path(tempfile.mkdtemp(prefix="crash-library-"))
    library, notes = folder / "library", folder / "notes.txt"
    Library.create(library)
    notes.touch()
    wrong = acts = 0
    for kill in range(kills):
        before = len(notes.read_bytes())
        child = context.Process(target=act, args=(str(library), str(notes), kill, kill * 1000))
        child.start()
        deadline = time.monotonic() + 30
        while len(notes.read_bytes()) == before and time.monotonic() < deadline:
            time.sleep(0.001)  # the first act is done: from now on it is in the thick of it
        time.sleep(rng.random() * 0.12)
        os.kill(child.pid, signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)
        child.join()
        for fault in faults(library, notes):
            print(f"kill {kill}: {fault}")
            wrong += 1
        acts = notes.read_text(encoding="utf-8").count("\n")
    print(f"{kills} kills, {acts} acts finished before them, {wrong} faults")
    shutil.rmtree(folder)
    return wrong


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    sys.exit(1 if run(options.kills, options.seed) else 0)


if __name__ == "__main__":
    main()
