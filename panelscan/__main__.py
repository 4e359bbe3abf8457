"""``python -m panelscan`` runs the command line."""

from __future__ import annotations

from panelscan.cli.main import main

if __name__ == "__main__":
    main()
