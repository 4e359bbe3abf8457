"""Every error that panelscan raises on purpose: what is wrong, what to do, which exit code.

Exit codes: 0 done, 1 unexpected, 2 usage, 3 input unreadable, 4 resolution missing or
unlikely, 5 output exists, 6 library made by a newer panelscan, 7 some pages failed (the
rest is saved), 8 library damaged or not writable, 9 nothing found, 10 check has findings,
130 interrupted.
"""

from __future__ import annotations


class PanelscanError(Exception):
    """Base of all errors meant for a person.

    Parameters
    ----------
    message : str
        What is wrong, naming the file or page.
    remedy : str
        What the person can do about it.

    Examples
    --------
    >>> error = InputError("page_03.png: the file ends early.", "Scan or copy it again.")
    >>> error.exit_code
    3
    >>> print(error)
    page_03.png: the file ends early. Scan or copy it again.
    """

    exit_code = 1

    def __init__(self, message: str, remedy: str = "") -> None:
        super().__init__(message, remedy)
        self.message = message
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.message} {self.remedy}".strip()


class UsageError(PanelscanError):
    """Options that do not go together, or text that cannot be understood."""

    exit_code = 2


class InputError(PanelscanError):
    """A file or page that cannot be read."""

    exit_code = 3


class ResolutionError(PanelscanError):
    """A resolution that is needed but missing, or that no page can have."""

    exit_code = 4


class OutputExistsError(PanelscanError):
    """A result would overwrite a file and nobody asked for that."""

    exit_code = 5


class NewerLibraryError(PanelscanError):
    """The library was written by a newer panelscan."""

    exit_code = 6


class SomePagesFailed(PanelscanError):
    """Some pages could not be read; all others were saved."""

    exit_code = 7


class LibraryError(PanelscanError):
    """The library is damaged, cannot be written, or is not a library."""

    exit_code = 8


class ConflictError(PanelscanError):
    """Two people changed the same thing at once; the second must look again."""

    exit_code = 8


class NothingFound(PanelscanError):
    """A page, grid, family or format that was asked for does not exist."""

    exit_code = 9


class NotationError(UsageError):
    """Text in one of our small languages that breaks off at a known place.

    Parameters
    ----------
    text : str
        The whole text.
    position : int
        Index of the character where reading stopped, from 0.
    message, remedy : str
        As for `PanelscanError`.
    """

    def __init__(self, text: str, position: int, message: str, remedy: str = "") -> None:
        super().__init__(message, remedy)
        self.text = text
        self.position = position

    def __str__(self) -> str:
        return f"{self.message}\n  {self.text}\n  {' ' * self.position}^\n{self.remedy}".strip()
