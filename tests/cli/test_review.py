"""The command's own part: its options, its address, its refusals."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from panelscan.cli.review import command
from panelscan.corpus.store import Library
from panelscan.errors import LibraryError, UsageError
from panelscan.review import serve as serving


def test_the_address_is_printed_for_a_script_to_read(tmp_path, monkeypatch):
    Library.create(tmp_path / "shelf")
    asked = {}

    class NeverServes:
        def __init__(self, config):
            asked["app"] = config.app

        def run(self, sockets):
            asked["port"] = sockets[0].getsockname()[1]
            sockets[0].close()

    monkeypatch.setattr("uvicorn.Server", NeverServes)
    told = CliRunner().invoke(
        command, ["--library", str(tmp_path / "shelf"), "--no-browser"], catch_exceptions=False
    )
    assert told.exit_code == 0
    assert told.stdout.startswith(f"http://127.0.0.1:{asked['port']}/?start=")
    assert len(told.stdout.strip().partition("=")[2]) >= 43  # 32 bytes that cannot be guessed


def test_a_port_that_is_taken_and_a_missing_library_are_told(tmp_path):
    Library.create(tmp_path / "shelf")
    sock = serving._bound(0)
    try:
        port = str(sock.getsockname()[1])
        arguments = ["--library", str(tmp_path / "shelf"), "--no-browser", "--port", port]
        with pytest.raises(UsageError, match="is taken"):
            CliRunner().invoke(command, arguments, catch_exceptions=False)
    finally:
        sock.close()
    with pytest.raises(LibraryError):
        CliRunner().invoke(command, ["--library", str(tmp_path)], catch_exceptions=False)
