"""What each step of the finding saw, kept only when somebody asks to look.

Coordinates of everything stored are those of the working image (see `working`), which the
trace holds as its first entry; `overlay` draws them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

STEPS = ("frame", "ground", "segments", "candidates", "selection", "sides", "final")


@dataclass
class Trace:
    """Evidence of the named steps, by step and by name.

    Parameters
    ----------
    wanted : frozenset of str
        Steps to keep; all of them by default.

    Examples
    --------
    >>> trace = Trace()
    >>> trace.keep("ground", color=(255, 255, 255))
    >>> trace.evidence("ground")["color"]
    (255, 255, 255)
    """

    wanted: frozenset[str] = frozenset(STEPS)
    _kept: dict[str, dict[str, Any]] = field(default_factory=dict)

    def keep(self, step: str, **evidence: Any) -> None:
        """Store evidence of a step under its names.

        Raises
        ------
        ValueError
            If there is no step of that name.
        """
        if step not in STEPS:
            raise ValueError(f"no step is called {step!r}; steps are {', '.join(STEPS)}")
        if step in self.wanted:
            self._kept.setdefault(step, {}).update(evidence)

    def evidence(self, step: str) -> dict[str, Any]:
        """All that was kept of a step, by name; empty if nothing was."""
        return self._kept.get(step, {})

    def __iter__(self) -> Iterator[str]:
        return (step for step in STEPS if step in self._kept)


def keep(trace: Trace | None, step: str, **evidence: Any) -> None:
    """Store evidence if there is a trace to store it in."""
    if trace is not None:
        trace.keep(step, **evidence)
