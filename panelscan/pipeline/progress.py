"""How a scan tells how far it is; the command line draws it, tests collect it."""

from __future__ import annotations

from enum import StrEnum
from typing import Protocol


class PageFate(StrEnum):
    """What became of a source image."""

    READ = "read"
    UNCHANGED = "unchanged"
    FAILED = "failed"


class Progress(Protocol):
    """Called from the scanning process only, in order."""

    def begin(self, total: int) -> None:
        """The number of source images is known."""

    def advance(self, label: str, fate: PageFate) -> None:
        """One source image is done."""

    def end(self) -> None:
        """All is done, or the scan broke off."""


class NoProgress:
    """Tells nobody."""

    def begin(self, total: int) -> None:
        """Do nothing."""

    def advance(self, label: str, fate: PageFate) -> None:
        """Do nothing."""

    def end(self) -> None:
        """Do nothing."""
