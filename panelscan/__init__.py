"""panelscan reads a comic artist's own pages as layouts.

The verbs of the command line are functions here: `scan`, `look_at`, `open_library`,
`habits`, `find`, `plan`, `template`, `check`, `compare`; see `panelscan.verbs`.
"""

from __future__ import annotations

import importlib
from typing import Any

__version__ = "0.1.0"

VERBS = (
    "check", "compare", "find", "habits", "look_at", "open_library", "plan", "scan", "template",
)
__all__ = ["__version__", *VERBS]


def __getattr__(name: str) -> Any:
    """Load a verb when it is first asked for, so that ``import panelscan`` stays light."""
    if name in VERBS:
        return getattr(importlib.import_module("panelscan.verbs"), name)
    raise AttributeError(f"module 'panelscan' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *VERBS])
