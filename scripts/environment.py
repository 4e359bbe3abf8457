"""Make the project's virtual environment with nothing but the standard library.

Shared by ``try.py`` and ``test.py``. Safe to run again: an environment that is
already complete for the present ``pyproject.toml`` is used as it is.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
OLDEST_PYTHON = (3, 11)


def python_path() -> Path:
    """Path of the environment's interpreter on this system."""
    if os.name == "nt":
        return VENV / "Scripts" / "python.exe"
    return VENV / "bin" / "python"


def run(*arguments: str | Path, **options: object) -> int:
    """Run a command from the project's top folder and return its exit code."""
    return subprocess.call([str(a) for a in arguments], cwd=ROOT, **options)  # type: ignore[arg-type]


def _fingerprint(extras: str) -> str:
    """Text that changes when the environment would have to be made again."""
    parts = [extras, sys.version]
    for name in ("pyproject.toml", "scripts/constraints.txt"):
        parts.append((ROOT / name).read_text(encoding="utf-8"))
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def ensure(extras: str = "") -> Path:
    """Make ``.venv`` with panelscan in it, or reuse it, and return its interpreter.

    Parameters
    ----------
    extras : str
        Optional dependency groups, e.g. ``"test"``; empty for what an artist needs.

    Returns
    -------
    Path
        The interpreter inside the environment.

    Raises
    ------
    SystemExit
        When Python is too old or the packages cannot be installed; the message
        says what to do.
    """
    if sys.version_info < OLDEST_PYTHON:
        wanted = ".".join(map(str, OLDEST_PYTHON))
        sys.exit(f"panelscan needs Python {wanted} or newer; this is {sys.version.split()[0]}.")
    stamp = VENV / f"panelscan-{extras or 'plain'}.stamp"
    mark = _fingerprint(extras)
    python = python_path()
    if python.exists() and stamp.exists() and stamp.read_text(encoding="utf-8") == mark:
        return python
    print(f"Making the environment in {VENV} (a minute or two the first time) …", flush=True)
    if not python.exists():
        venv.EnvBuilder(with_pip=True).create(VENV)
    target = f".[{extras}]" if extras else "."
    code = run(
        python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check",
        "--constraint", "scripts/constraints.txt", "--editable", target,
    )
    if code:
        sys.exit(
            "The packages could not be installed. Look at the message above; "
            "most often the package index cannot be reached. Then run this again."
        )
    stamp.write_text(mark, encoding="utf-8")
    return python
