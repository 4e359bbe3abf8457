from __future__ import annotations

from pathlib import Path

from panelscan.corpus.store import Library
from panelscan.pipeline import run
from panelscan.pipeline.options import ScanOptions
from panelscan.pipeline.run import scan
from scripts.fuzz_intake import mutated
from tests.intake import makers
from tests.pipeline import fakes


def test_a_folder_of_damaged_files_is_scanned_without_losing_a_good_page(tmp_path, monkeypatch):
    # Files of scripts/fuzz_intake.py, between sound pages; read in real worker processes.
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(run, "answer_page", fakes.deadly_answer)
    for number in range(900, 980):
        name, data = mutated(number)
        makers.write(Path(f"shelf/n{number}-{name}"), data)
    for k in range(4):
        pixels = makers.picture(60 + k, 40)
        makers.write(Path(f"shelf/p{k}.png"), makers.encoded(pixels, "PNG"))
    before = {path.as_posix() for path in tmp_path.rglob("*")}
    summary = scan(["shelf"], "lib", ScanOptions(workers=2, page_time_s=30.0))
    table = Library.open("lib").pages(columns=["source_path", "page_id"]).to_pylist()
    saved = {row["source_path"] for row in table}
    assert {f"shelf/p{k}.png" for k in range(4)} <= saved
    assert len(table) == summary.pages == len({row["page_id"] for row in table})
    # Each file is in the library, named as a failure, or told as another's double.
    told = " ".join([f.label for f in summary.failures] + [name for name, _ in summary.duplicates])
    for path in Path("shelf").iterdir():
        assert path.as_posix() in saved or path.as_posix() in told, path
    assert all(failure.reason and failure.remedy for failure in summary.failures)
    assert not any("unexpected" in failure.reason for failure in summary.failures)
    assert summary.exit_code == 7
    after = {path.as_posix() for path in tmp_path.rglob("*")}
    assert {path for path in after - before if "/lib" not in path} == set()
