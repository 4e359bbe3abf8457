from __future__ import annotations

import os
import subprocess
import sys
import time
from concurrent.futures import wait
from pathlib import Path

import pytest

from panelscan.errors import InputError
from panelscan.pipeline.pool import PagePool, WorkerLost, available_cores
from tests.pipeline import fakes

posix = pytest.mark.skipif(sys.platform == "win32", reason="signals as on POSIX")


@pytest.fixture(scope="module")
def pool():
    with PagePool(2, time_limit_s=20.0) as made:
        yield made


def test_results_and_errors_come_back(pool):
    futures = [pool.submit(fakes.double, k) for k in range(40)]
    assert [future.result() for future in futures] == [2 * k for k in range(40)]
    with pytest.raises(InputError, match=r"p\.png: it is bad") as caught:
        pool.submit(fakes.fail, "p.png").result()
    assert caught.value.remedy == "Mend it."


def test_work_is_done_in_other_processes(pool):
    ids = {pool.submit(fakes.process_id).result() for _ in range(4)}
    assert os.getpid() not in ids


@posix
def test_a_crash_costs_only_its_task(pool):
    before = [pool.submit(fakes.double, k) for k in range(5)]
    deadly = [pool.submit(fakes.crash), pool.submit(fakes.leave)]
    after = [pool.submit(fakes.double, k) for k in range(5)]
    assert [future.result() for future in (*before, *after)] == [0, 2, 4, 6, 8] * 2
    with pytest.raises(WorkerLost, match="SIGSEGV"):
        deadly[0].result()
    with pytest.raises(WorkerLost, match="code 7"):
        deadly[1].result()


def test_what_cannot_be_sent_is_an_error_not_a_hang(pool):
    with pytest.raises(Exception, match=r"(?i)pickle|local object|lambda"):
        pool.submit(fakes.unsendable).result(timeout=60)
    with pytest.raises(Exception, match=r"(?i)pickle|local object|lambda"):
        pool.submit(lambda: None).result(timeout=60)
    assert pool.submit(fakes.double, 4).result() == 8


@posix
def test_a_process_killed_from_outside_gets_a_second_try(pool, tmp_path):
    mark = str(tmp_path / "mark")
    assert pool.submit(fakes.killed_once, mark).result() == "done"


@pytest.mark.skipif(sys.platform != "linux", reason="bounded memory is a Linux matter")
def test_asking_for_too_much_memory_is_an_error_of_that_task(pool):
    with pytest.raises(MemoryError):
        pool.submit(fakes.hungry).result()


def test_a_hang_costs_its_task_after_the_time_limit():
    with PagePool(1, time_limit_s=1.0) as pool:
        assert pool.submit(fakes.double, 1).result() == 2
        hanging, after = pool.submit(fakes.hang), pool.submit(fakes.double, 3)
        started = time.monotonic()
        with pytest.raises(WorkerLost, match="longer than 1 s"):
            hanging.result()
        assert time.monotonic() - started < 20
        assert after.result() == 6


def test_shutdown_drops_the_queue_when_asked():
    pool = PagePool(1, time_limit_s=60.0)
    futures = [pool.submit(fakes.hang) for _ in range(3)]
    time.sleep(0.1)
    pool.shutdown(cancel_futures=True)
    wait(futures, timeout=30)
    assert all(future.done() for future in futures)
    with pytest.raises(RuntimeError, match="closed"):
        pool.submit(fakes.double, 1)


def test_cores_are_at_least_one():
    assert available_cores() >= 1


@pytest.mark.skipif(sys.platform == "win32", reason="kill as on POSIX")
def test_workers_leave_when_their_parent_is_killed():
    code = (
        "import time\n"
        "from panelscan.pipeline.pool import PagePool\n"
        "from tests.pipeline import fakes\n"
        "if __name__ == '__main__':\n"
        "    pool = PagePool(1)\n"
        "    print(pool.submit(fakes.process_id).result(), flush=True)\n"
        "    pool.submit(fakes.hang)\n"
        "    time.sleep(60)\n"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, cwd=Path(__file__).parents[2]
    )
    assert parent.stdout is not None
    with parent, parent.stdout:
        worker = int(parent.stdout.readline())
        assert _is_alive(worker)
        parent.kill()
    limit = time.monotonic() + 20
    while _is_alive(worker) and time.monotonic() < limit:
        time.sleep(0.1)
    assert not _is_alive(worker)


def _is_alive(process_id: int) -> bool:
    try:
        os.kill(process_id, 0)
    except ProcessLookupError:
        return False
    status = Path(f"/proc/{process_id}/stat")
    return not status.exists() or status.read_text().rsplit(")", 1)[1].split()[0] != "Z"
