"""Write the table of the library's columns into DEVELOPERS.md, between its markers.

python scripts/columns.py
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from panelscan.corpus.columns_doc import with_columns

ROOT = Path(__file__).resolve().parents[1]

if __name__ == "__main__":
    document = ROOT / "DEVELOPERS.md"
    document.write_text(with_columns(document.read_text(encoding="utf-8")), encoding="utf-8")
