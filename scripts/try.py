"""Try panelscan on a fresh machine: make ``.venv``, run the demo, say where things lie.

``python scripts/try.py [FOLDER]`` needs nothing but Python and a package index.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from environment import ROOT, ensure, run


def main() -> int:
    """Install panelscan and run ``panelscan demo`` into a folder."""
    python = ensure()
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / ".demo"
    code = run(python, "-m", "panelscan", "demo", folder.resolve(), "--overwrite")
    if code == 0:
        print(f"\nNext: {python} -m panelscan scan YOUR-PAGES --library YOUR-LIBRARY")
    return code


if __name__ == "__main__":
    sys.exit(main())
