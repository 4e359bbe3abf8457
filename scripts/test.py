"""Run every check of the project: lint, import contracts, types, tests.

``python scripts/test.py`` needs nothing but Python and a package index.
Arguments are handed to pytest, e.g. ``python scripts/test.py -k order``.
"""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from environment import ensure, python_path, run

BROWSERS = {
    "Chromium": (("chromium", "chromium-browser", "google-chrome", "chrome"), "chromium"),
    "Firefox": (("firefox-esr", "firefox"), "firefox-esr"),
}


def _say_about_browsers() -> None:
    """Tell how to get the browsers that the page tests drive, where there is none."""
    for browser, (programs, package) in BROWSERS.items():
        if not any(shutil.which(name) for name in programs):
            print(
                f"No {browser} found: the tests that drive it will be skipped. To run them too, "
                f"install it, e.g. 'apt-get install {package}' on Debian.",
                flush=True,
            )


def _checks(python: Path, pytest_arguments: list[str]) -> list[tuple[str, list[str]]]:
    """Each check's name and command, in the order they run."""
    tools = python.parent
    checks = [
        ("lint", [str(python), "-m", "ruff", "check", "."]),
        ("import contracts", [str(tools / "lint-imports"), "--no-cache"]),
        ("types", [str(python), "-m", "mypy"]),
    ]
    tests = [str(python), "-m", "pytest", *pytest_arguments]
    if not pytest_arguments:
        tests += ["-n", str(min(4, os.cpu_count() or 1)), "-q"]
    return [*checks, ("tests", tests)]


def main() -> int:
    """Run all checks; the first failure's exit code is returned."""
    ensure("test")
    _say_about_browsers()
    for name, command in _checks(python_path(), sys.argv[1:]):
        print(f"== {name}", flush=True)
        code = run(*command)
        if code:
            print(f"== {name} failed (exit code {code})", flush=True)
            return code
    return 0


if __name__ == "__main__":
    sys.exit(main())
