"""Reading a scene file: plain text or a table, whatever editor or spreadsheet wrote it."""

from __future__ import annotations

import codecs
import itertools
from dataclasses import replace
from pathlib import Path

from panelscan.errors import InputError
from panelscan.finder.beats import Beat, Scene
from panelscan.finder.scene_lines import read_lines
from panelscan.finder.scene_table import looks_like_table, read_table
from panelscan.finder.scene_words import Problem

TABLE_ENDINGS = (".csv", ".tsv", ".tab")
MOST_BYTES = 4_000_000
MOST_BEATS = 2_000
_SHOWN = 8


class SceneError(InputError):
    """A scene file that cannot be understood; ``problems`` lists every fault found."""

    def __init__(self, source: str, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        shown = [f"{source}, {p}" for p in problems[:_SHOWN]]
        if len(problems) > _SHOWN:
            shown.append(f"{source}: {len(problems) - _SHOWN} more places like these.")
        super().__init__("\n".join(shown))


def read_scene(path: str | Path) -> Scene:
    """Read a scene, one beat a line.

    Parameters
    ----------
    path : str or Path
        Plain text (see `scene_lines`) or a table (see `scene_table`).

    Raises
    ------
    InputError
        If the file is missing, not text, or empty.
    SceneError
        If a line cannot be understood; all such places are named with line and column.
    """
    path = Path(path)
    text, notes = _read_text(path)
    return scene_from_text(text, path.name, is_table=_is_table(path, text), notes=notes)


def scene_from_text(
    text: str, source: str = "scene", *, is_table: bool | None = None, notes: tuple[str, ...] = ()
) -> Scene:
    r"""Scene from text that was read already.

    Examples
    --------
    >>> len(scene_from_text("A knock [3 words]\nThe door opens [reveal, big]"))
    2
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    is_table = looks_like_table(text) if is_table is None else is_table
    beats, problems = read_table(text) if is_table else read_lines(text)
    problems += _contradictions(beats)
    if problems:
        raise SceneError(source, tuple(sorted(problems, key=lambda p: (p.line, p.column))))
    if not beats:
        raise InputError(
            f"{source}: no beat was found.",
            "Write one beat a line, for example: A knock at the door [close-up, 3 words]",
        )
    if len(beats) > MOST_BEATS:
        raise InputError(
            f"{source}: {len(beats)} beats are more than the {MOST_BEATS} that fit a plan.",
            "Plan the scenes one by one.",
        )
    if beats[-1].keep_with_next:
        beats[-1] = replace(beats[-1], keep_with_next=False)
        notes = (*notes, "The last beat has no next to keep with; the mark was passed over.")
    return Scene(tuple(beats), source, notes)


def _is_table(path: Path, text: str) -> bool:
    return path.suffix.casefold() in TABLE_ENDINGS or looks_like_table(text)


def _contradictions(beats: list[Beat]) -> list[Problem]:
    """Beats that no order of pages can satisfy together."""
    return [
        Problem(
            b.line,
            1,
            f"This beat must open after a page turn, yet line {a.line} is to be kept with it.",
            f"Take 'reveal' from line {b.line} or 'keep with next' from line {a.line}.",
        )
        for a, b in itertools.pairwise(beats)
        if a.keep_with_next and b.reveal
    ]


def _read_text(path: Path) -> tuple[str, tuple[str, ...]]:
    """The file's text and what was assumed about its encoding."""
    try:
        if path.is_dir():
            raise InputError(f"{path}: this is a folder.", "Name the scene file itself.")
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except FileNotFoundError as error:
        raise InputError(f"{path}: there is no such file.", "Check the name.") from error
    except OSError as error:
        raise InputError(
            f"{path}: cannot be read ({error.strerror}).", "Check that it may be opened."
        ) from error
    if len(data) > MOST_BYTES:
        raise InputError(
            f"{path}: too large for a scene.", "A scene is a short text, one beat a line."
        )
    return decode_text(data, str(path))


def decode_text(data: bytes, source: str) -> tuple[str, tuple[str, ...]]:
    """Text of bytes from any usual editor or spreadsheet.

    UTF-8 with or without byte order mark and UTF-16 with one are read as such; what is
    neither is read as Windows-1252, and a note says so.

    Raises
    ------
    InputError
        If the bytes are a spreadsheet's own file or no text at all.
    """
    if data[:4] in (b"PK\x03\x04", b"\xd0\xcf\x11\xe0"):
        raise InputError(
            f"{source}: this is a spreadsheet's own file, not text.",
            "Save the sheet as CSV and give that file.",
        )
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16", errors="replace").lstrip("\ufeff"), ()
    if b"\x00" in data:
        raise InputError(
            f"{source}: this is not a text file.", "Save the scene as plain text or CSV."
        )
    try:
        return data.decode("utf-8-sig"), ()
    except UnicodeDecodeError:
        note = f"{source} is not UTF-8; it was read as Windows-1252."
        return data.decode("cp1252", errors="replace"), (note,)
