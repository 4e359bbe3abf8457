from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from panelscan.corpus.store import Library
from panelscan.errors import UsageError
from panelscan.pipeline import run
from panelscan.pipeline.executors import SerialExecutor, open_executor
from panelscan.pipeline.options import ScanOptions
from panelscan.pipeline.pool import PagePool
from panelscan.pipeline.run import scan
from tests.intake import makers
from tests.pipeline import fakes


def test_options_choose_the_executor():
    with open_executor(ScanOptions(workers=0)) as executor:
        assert isinstance(executor, SerialExecutor)
        assert executor.submit(fakes.double, 3).result() == 6
        assert isinstance(executor.submit(fakes.fail, "p").exception(), Exception)
    with open_executor(ScanOptions(workers=1)) as executor:
        assert isinstance(executor, PagePool)
        assert executor.workers == 1


def test_the_pool_is_closed_when_the_scan_breaks_off():
    with pytest.raises(KeyboardInterrupt), open_executor(ScanOptions(workers=1)) as executor:
        future = executor.submit(fakes.hang)
        raise KeyboardInterrupt
    assert future.done()


def test_a_cluster_needs_its_package(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(UsageError, match=r"panelscan\[cluster\]"):
        with open_executor(ScanOptions(cluster="local")):
            pass


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_a_dask_cluster_reads_the_same_pages(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(run, "answer_page", fakes.answer_on_cluster)
    for k in range(5):
        pixels = np.random.default_rng(k).integers(200, 256, (60, 40), np.uint8)
        makers.write(Path(f"tide/p{k}.png"), makers.encoded(pixels, "PNG"))
    makers.write(Path("tide/p6.png"), makers.png_bomb())
    for name in ("p7-hang", "p8-crash", "p9-lost"):
        makers.write(Path(f"tide/{name}.png"), makers.encoded(pixels + len(name), "PNG"))
    summary = scan(["tide"], "lib", ScanOptions(cluster="local", workers=2, page_time_s=5.0))
    assert (summary.pages, summary.exit_code) == (6, 7)
    reasons = {Path(f.label).stem: f.reason for f in summary.failures}
    assert set(reasons) == {"p6", "p7-hang", "p8-crash"}
    assert "longer than 5 s" in reasons["p7-hang"]
    assert "crashed" in reasons["p8-crash"]
    assert Library.open("lib").pages(columns=["page_id"]).num_rows == 6
