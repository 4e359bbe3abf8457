"""Put broken bytes in the place of a library's files, and look that nothing worse happens.

    python scripts/fuzz_library.py --cases 10000
    python scripts/fuzz_library.py --cases 200      short

Each case damages one Parquet file of a small library (flipped, cut, inserted, made-up bytes),
then reads, filters, sums up and now and then verifies the library. Each must work or say
which file is damaged; no other file may change; the program must not crash or hang.
"""

from __future__ import annotations

import argparse
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from panelscan.corpus.query import load_pages
from panelscan.corpus.store import Library
from panelscan.corpus.summary import summarise
from panelscan.corpus.verify import verify
from panelscan.errors import LibraryError
from tests.corpus.made_up import make_record

LONGEST_S = 20.0


def damaged(rng: random.Random, whole: bytes) -> bytes:
    """The bytes after one kind of damage."""
    data = bytearray(whole)
    kind = rng.choice(["flip", "flip", "tail", "cut", "insert", "noise"])
    if kind == "flip":
        for _ in range(rng.randint(1, 6)):
            data[rng.randrange(len(data))] ^= rng.randint(1, 255)
    elif kind == "tail":  # where a Parquet file tells of itself
        for _ in range(rng.randint(1, 4)):
            data[-rng.randint(1, min(3000, len(data)))] = rng.randint(0, 255)
    elif kind == "cut":
        del data[rng.randrange(len(data)) :]
    elif kind == "insert":
        at = rng.randrange(len(data))
        data[at:at] = rng.randbytes(rng.randint(1, 20))
    else:
        data = bytearray(b"PAR1" + rng.randbytes(rng.randint(0, 200)) + b"PAR1")
    return bytes(data)


def run(cases: int, seed: int) -> Counter[str]:
    """Counts of what was read and what was told of; raises at the first fault."""
    rng = random.Random(seed)
    folder = Path(tempfile.mkdtemp(prefix="fuzz-library-"))
    library = Library.create(folder / "library")
    library.commit_book("Salt", [make_record("Salt", 1, [2, 1])])
    library.commit_book("Tin", [make_record("Tin", 1, [1])])
    files = {
        t: next((folder / "library" / t).glob("salt-*")) for t in ("pages", "panels", "gutters")
    }
    whole = {table: file.read_bytes() for table, file in files.items()}
    others = {
        p: p.read_bytes() for p in folder.rglob("*") if p.is_file() and p not in files.values()
    }
    counts: Counter[str] = Counter()
    for case in range(cases):
        table = rng.choice(list(files))
        files[table].write_bytes(damaged(rng, whole[table]))
        acts = [
            lambda table=table: library.table(table),
            lambda: load_pages(library, "panels > 1"),
            lambda: summarise(library),
        ]
        if case % 5 == 0:
            acts.append(lambda: verify(library))
        for act in acts:
            start = time.monotonic()
            try:
                act()
                counts["read"] += 1
            except LibraryError as error:
                if files[table].name not in str(error):
                    raise
                counts["told"] += 1
            if time.monotonic() - start > LONGEST_S:
                raise RuntimeError(f"case {case} took too long")
        files[table].write_bytes(whole[table])
    for path, data in others.items():
        if path.read_bytes() != data:
            raise RuntimeError(f"{path} was changed")
    shutil.rmtree(folder)
    return counts


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    counts = run(options.cases, options.seed)
    print(
        f"{options.cases} damaged files: {counts['told']} readings told of it,"
        f" {counts['read']} did not meet it or read past it"
    )


if __name__ == "__main__":
    main()
