"""Death, full disks and rivals at every step of a change to the library."""

from __future__ import annotations

import errno
import multiprocessing
import os
import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path

import pandas as pd
import pytest

from panelscan.corpus import lock as locks
from panelscan.corpus.labels import Label, add_labels, all_labels
from panelscan.corpus.lock import hold_lease, hold_lock
from panelscan.corpus.packs import compact
from panelscan.corpus.storage import WORK, FolderPlace
from panelscan.corpus.store import Library
from panelscan.errors import LibraryError
from panelscan.model.correction import DeletePanel
from tests.corpus.made_up import make_record

ROOT = Path(__file__).parents[2]
STEPS = ("write_new", "write_quick", "replace", "delete", "sync")


class Died(BaseException):
    """The program ends here: nothing after this line runs, no clearing up either."""


class Failing(FolderPlace):
    """A folder in which step number ``at`` dies or fails, half done."""

    def __init__(self, root, at, error):
        super().__init__(root)
        self.left, self.error = at, error
        self.broken = False

    def _step(self, name, *args):
        if self.broken and isinstance(self.error, Died):
            raise self.error
        self.left -= 1
        if self.left == 0:
            self.broken = True
            if name == "write_new":
                (self.root / args[0]).parent.mkdir(exist_ok=True)
                (self.root / args[0]).write_bytes(args[1][: len(args[1]) // 2])
            raise self.error
        getattr(FolderPlace, name)(self, *args)


for _name in STEPS:
    setattr(Failing, _name, lambda self, *args, _n=_name: self._step(_n, *args))


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    """A library with two books, one corrected page and labels, to copy from."""
    root = tmp_path_factory.mktemp("shelf") / "library"
    library = Library.create(root)
    library.commit_book("Salt", [make_record("Salt", n, [2]) for n in (1, 2)])
    library.commit_book("Tin", [make_record("Tin", n, [1]) for n in (1, 2)])
    page = library.pages(["page_id"])["page_id"][0].as_py()
    library.correct(page, DeletePanel("d0"), 0, who="Ada")
    return root


def rescan(library):
    library.commit_book("Salt", [make_record("Salt", n, [1]) for n in (1, 2, 3)])


def move(library):
    library.commit_book("Tin", [make_record("Tin", 9, [1], content="Salt/2")], moved_from=["Salt"])


def correct(library):
    page = library.pages(["page_id"])["page_id"][0].as_py()
    library.correct(page, DeletePanel("d1"), 1, who="Ada")


def pack(library):
    compact(library)


def forget(library):
    library.forget_book("Tin")


DEEDS = {"rescan": rescan, "move": move, "correct": correct, "pack": pack, "forget": forget}


def picture(root):
    """Rows of all tables and all corrections, as panelscan reads them."""
    library = Library.open(root)
    tables = library.tables({"pages": None, "panels": None, "gutters": None})
    for name, table in tables.items():
        kept = [n for n in table.column_names if n != "scanned_at"]
        tables[name] = sorted(map(repr, table.select(kept).to_pylist()))
    logs = sorted(p.read_text().count('"line": "correction"') for p in root.glob("corrections/*"))
    return tables, logs


@pytest.mark.parametrize("deed", DEEDS)
def test_dying_at_any_step_leaves_the_library_before_or_after(shelf, tmp_path, deed):
    done = tmp_path / "done"
    shutil.copytree(shelf, done)
    DEEDS[deed](Library.open(done))
    outcomes = [picture(shelf), picture(done)]
    if deed == "correct":  # on record, but not settled yet: the reader settles
        outcomes.append(outcomes[1])
    seen = set()
    for at in range(1, 100):
        root = tmp_path / f"{at}"
        shutil.copytree(shelf, root)
        library = Library(Failing(root, at, Died()))
        try:
            DEEDS[deed](library)
        except Died:
            for table in ("pages", "panels", "gutters"):
                pd.read_parquet(root / table)
            left = picture(root)
            assert left in outcomes, f"step {at}"
            seen.add(outcomes.index(left))
            with Library.open(root).writing("looking"):
                names = set(FolderPlace(root).names(WORK))
            assert names <= {"write.lock"}
        else:
            assert picture(root) == outcomes[1]
            break
        shutil.rmtree(root)
    assert at > 3
    assert seen == {outcomes.index(o) for o in outcomes}  # a compaction changes no rows


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS])
def test_a_full_or_forbidden_disk_at_any_write_leaves_all_as_it_was(shelf, tmp_path, number):
    before = picture(shelf)
    for at in range(1, 100):
        root = tmp_path / f"{at}"
        shutil.copytree(shelf, root)
        place = Failing(root, at, OSError(number, os.strerror(number)))
        try:
            rescan(Library(place))
        except LibraryError as error:
            assert ("disk is full" in str(error)) == (number in (errno.ENOSPC, errno.EDQUOT))
            assert error.exit_code == 8
            if picture(root) == before:
                assert [n for n in FolderPlace(root).names(WORK) if n.endswith(".part")] == []
        else:
            break
        shutil.rmtree(root)
    assert at > 8


def test_a_full_file_system_keeps_every_book_that_was_saved(tmp_path):
    """A real one of 1 MB, where mounting is allowed."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = shutil.which("mount")
    if mount is None or os.name == "nt" or os.geteuid() != 0:
        pytest.skip("mounting is not allowed here")
    if subprocess.run(
        [mount, "-t", "tmpfs", "-o", "size=1m", "tmpfs", disk], check=False
    ).returncode:
        pytest.skip("mounting is not allowed here")
    try:
        library = Library.create(disk / "library")
        saved = 0
        with pytest.raises(LibraryError, match="disk is full"):
            while True:
                library.commit_book(f"Book {saved}", [make_record(f"Book {saved}", 1, [2])])
                saved += 1
        assert saved > 3
        again = Library.open(disk / "library")
        assert again.pages().num_rows == saved
        assert len(pd.read_parquet(disk / "library" / "panels")) == 2 * saved
        again.forget_book("Book 0")
        again.commit_book("Last", [make_record("Last", 1)])
    finally:
        subprocess.run(["umount", disk], check=True)


def test_a_library_on_a_read_only_disk_is_read_and_refuses_to_write(shelf, tmp_path):
    disk = tmp_path / "disk"
    shutil.copytree(shelf, disk)
    if os.name == "nt" or os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("mounting is not allowed here")
    if subprocess.run(["mount", "--bind", disk, disk], check=False).returncode:
        pytest.skip("mounting is not allowed here")
    try:
        remount = ["mount", "-o", "remount,ro,bind", disk]
        if subprocess.run(remount, check=False).returncode:
            pytest.skip("mounting is not allowed here")
        library = Library.open(disk)
        assert library.pages().num_rows == 4
        with pytest.raises(LibraryError, match="may not be written"):
            rescan(library)
    finally:
        subprocess.run(["umount", disk], check=True)


def test_a_reader_that_may_not_write_sees_a_committed_change(shelf, tmp_path):
    """A writer died right after its moment of commit; the reader cannot finish the renames."""
    done, root = tmp_path / "done", tmp_path / "root"
    shutil.copytree(shelf, done)
    move(Library.open(done))
    for at in range(1, 40):
        shutil.copytree(shelf, root)
        with pytest.raises(Died):
            move(Library(Failing(root, at, Died())))
        if any(n.endswith(".journal") for n in FolderPlace(root).names(WORK)):
            break
        shutil.rmtree(root)
    stuck = Library(Failing(root, 1, OSError(errno.EROFS, "read-only")))
    want = Library.open(done).pages(["page_id"])["page_id"].to_pylist()
    assert sorted(stuck.pages(["page_id"])["page_id"].to_pylist()) == sorted(want)
    assert any(n.endswith(".journal") for n in FolderPlace(root).names(WORK))


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs quick child processes")
def test_kills_at_random_instants_lose_nothing():
    """The short run; ``scripts/crash_library.py`` makes the full one of 200 and more."""
    run = subprocess.run(
        [sys.executable, ROOT / "scripts" / "crash_library.py", "--kills", "8", "--seed", "7"],
        capture_output=True,
        text=True,
        timeout=200,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr
    assert "8 kills" in run.stdout


def _scan_into(folder, name, barrier):
    library = Library.open(folder)
    barrier.wait()
    for n in range(1, 5):
        library.commit_book("Shared", [make_record("Shared", n, [2])])
        library.commit_book(name, [make_record(name, k, [1]) for k in range(1, n + 1)])
        add_labels(library.place, [Label("scene", str(n), book=name)], name, f"2026-01-0{n}")


def test_two_scans_into_one_library_lose_and_double_nothing(tmp_path):
    folder = tmp_path / "library"
    Library.create(folder)
    context = multiprocessing.get_context("spawn")
    barrier = context.Barrier(3)
    writers = [
        context.Process(target=_scan_into, args=(folder, name, barrier)) for name in ("A", "B")
    ]
    for writer in writers:
        writer.start()
    barrier.wait()
    library = Library.open(folder)
    looks = 0
    while any(w.is_alive() for w in writers):
        both = library.tables({"pages": ["page_id", "panel_count"], "panels": ["page_id"]})
        counts = both["pages"]["panel_count"].to_pylist()
        assert sum(counts) == both["panels"].num_rows
        ids = both["pages"]["page_id"].to_pylist()
        assert len(set(ids)) == len(ids)
        looks += 1
    assert [w.exitcode for w in writers] == [0, 0]
    assert looks > 3
    assert library.pages().num_rows == 12
    assert all_labels(library.place).num_rows == 8


def test_a_lock_left_by_a_dead_program_holds_nobody_up(tmp_path):
    code = (
        "import sys, os; from pathlib import Path; from panelscan.corpus.lock import hold_lock\n"
        "with hold_lock(Path(sys.argv[1]), 1.0):\n    print('mine', flush=True); os._exit(9)"
    )
    run = subprocess.run([sys.executable, "-c", code, tmp_path], capture_output=True, check=False)
    assert run.returncode == 9
    with hold_lock(tmp_path, 0.0):
        assert (tmp_path / "write.lock").exists()


def test_a_second_writer_waits_and_gives_up_in_time(tmp_path):
    with hold_lock(tmp_path, 0.0), pytest.raises(TimeoutError), hold_lock(tmp_path, 0.05):
        pass


def test_where_the_drive_knows_no_locks_a_lease_does(tmp_path, monkeypatch):
    def refuse(file):
        raise OSError(errno.ENOLCK, "no locks available")

    monkeypatch.setattr(locks, "_system_lock", refuse)
    with hold_lock(tmp_path, 0.1):
        assert (tmp_path / "write.lease").exists()
        with pytest.raises(TimeoutError), hold_lock(tmp_path, 0.05):
            pass
    assert not (tmp_path / "write.lease").exists()


def test_a_lease_of_a_dead_process_or_grown_old_is_taken_over(tmp_path):
    lease = tmp_path / "write.lease"
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    import json
    import socket

    lease.write_text(json.dumps({"pid": dead.pid, "host": socket.gethostname(), "thread": 1}))
    with hold_lease(lease, 1.0):
        pass
    lease.write_text(json.dumps({"pid": 1, "host": "another machine", "thread": 1}))
    with pytest.raises(TimeoutError), hold_lease(lease, 0.05):
        pass
    old = time.time() - 90
    os.utime(lease, (old, old))
    with hold_lease(lease, 1.0):
        assert "another machine" not in lease.read_text()
    lease.write_text("half wri")
    with pytest.raises(TimeoutError), hold_lease(lease, 0.05):
        pass


def test_a_lease_stays_alive_while_it_is_held(tmp_path):
    lease = tmp_path / "write.lease"
    with hold_lease(lease, 1.0, lease_s=0.4):
        time.sleep(0.8)
        with pytest.raises(TimeoutError), hold_lease(lease, 0.05, lease_s=0.4):
            pass


def test_contenders_for_a_lease_never_hold_it_together(tmp_path):
    lease, inside, most = tmp_path / "write.lease", [0], [0]

    def contend():
        for _ in range(10):
            with hold_lease(lease, 20.0):
                inside[0] += 1
                most[0] = max(most[0], inside[0])
                time.sleep(0.001)
                inside[0] -= 1

    threads = [threading.Thread(target=contend) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert most == [1]
