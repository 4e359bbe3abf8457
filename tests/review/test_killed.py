"""A server that is killed loses nothing that it had answered."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import urllib.request
from http.cookiejar import CookieJar

from panelscan.corpus.store import Library
from tests.review.made_up import outlines


def test_what_was_answered_outlives_a_killed_server(shelf, tmp_path):
    root = shelf.library.place.root
    command = [sys.executable, "-m", "panelscan", "review", "--library", str(root),
               "--no-browser", "--templates", str(tmp_path / "templates")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as server:
        try:
            address = server.stdout.readline().decode().strip()
            origin = re.match(r"http://127\.0\.0\.1:\d+", address)[0]
            jar = urllib.request.HTTPCookieProcessor(CookieJar())
            opener = urllib.request.build_opener(jar)
            assert b"panelscan" in opener.open(address, timeout=60).read()
            body = {"revision": 0, "changes": [{"kind": "delete-panel", "panel": "d1"}]}
            request = urllib.request.Request(  # noqa: S310
                f"{origin}/api/page/{shelf.pages[0]}/change", json.dumps(body).encode(),
                {"Content-Type": "application/json", "Origin": origin},
            )
            answer = json.loads(opener.open(request, timeout=60).read())
            assert answer["revision"] == 1
        finally:
            os.kill(server.pid, signal.SIGKILL)
    library = Library.open(root)
    assert library.page(shelf.pages[0]).revision == 1
    assert len(outlines(library, shelf.pages[0])) == 4
