"""Page formats of the artist's own, from a small TOML file."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any

from panelscan.errors import InputError, UsageError
from panelscan.model.formats import BUILT_IN, PageFormat, format_named
from panelscan.model.units import MM_PER_INCH


def read_formats(path: Path) -> dict[str, PageFormat]:
    """Page formats from a TOML file.

    Each table names a format; lengths end in ``_mm`` or ``_in``; what is left out is taken
    from ``based_on`` (a format built in or earlier in the file), else bleed 3 mm, gutters
    4 mm, borders 0.6 mm, live area 15 mm inside the trim::

        [pocket]
        title = "Pocket book"
        trim_mm = [110, 170]
        live_mm = [12, 10, 8, 12]   # left, top, right, bottom, from the trim

    Raises
    ------
    InputError
        If the file cannot be read or is not TOML.
    UsageError
        If a name is unknown or a figure cannot be; says where.
    """
    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror}).") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: is not a TOML file: {error}.") from error
    found: dict[str, PageFormat] = {}
    for name, table in tables.items():
        key = name.strip().lower()
        found[key] = _from_table(path, key, table, {**BUILT_IN, **found})
    return found


_DEFAULTS: dict[str, Any] = {
    "bleed_mm": 3.0,
    "tier_gutter_mm": 4.0,
    "column_gutter_mm": 4.0,
    "border_mm": 0.6,
    "live_mm": (15.0, 15.0, 15.0, 15.0),
}
_COUNTS = {"trim_mm": 2, "board_mm": 2, "live_mm": 4, "safe_mm": 4}
_PLAIN = {"title": str, "standing": str, "least_ppi": (int, float), "reduction": (int, float)}


def _from_table(path: Path, name: str, table: Any, known: Mapping[str, PageFormat]) -> PageFormat:
    """One format from one table of the file."""
    where = f"{path}: [{name}]"
    if not isinstance(table, dict):
        raise UsageError(f"{where}: each page format is a table of its own.")
    values = dict(table)
    base: dict[str, Any] = {**_DEFAULTS, "title": name, "standing": f"own: {path.name}"}
    if "based_on" in values:
        start = format_named(str(values.pop("based_on")), known)
        base = {f.name: getattr(start, f.name) for f in fields(start)}
        base["standing"] = f"own: {path.name}"
    base |= dict(_read_value(where, key, value) for key, value in values.items())
    base["name"] = name
    if "trim_mm" not in base:
        raise UsageError(f"{where}: has no trim.", "Add trim_mm = [width, height].")
    try:
        return PageFormat(**base)
    except ValueError as error:
        raise UsageError(f"{path}: {error}.") from error


def _read_value(where: str, key: str, value: Any) -> tuple[str, Any]:
    """One line of a table, in millimetres."""
    if key in _PLAIN:
        if not isinstance(value, _PLAIN[key]):  # type: ignore[arg-type]
            raise UsageError(f"{where}: {key} = {value!r} is not what belongs there.")
        return key, value
    scale = MM_PER_INCH if key.endswith("_in") else 1.0
    field_name = f"{key.removesuffix('_in')}_mm" if key.endswith("_in") else key
    lengths = sorted(f.name for f in fields(PageFormat) if f.name.endswith("_mm"))
    if field_name not in lengths:
        allowed = ", ".join(["based_on", *_PLAIN, *lengths])
        raise UsageError(f"{where}: unknown entry {key!r}.", f"There are: {allowed} (or _in).")
    count = _COUNTS.get(field_name, 1)
    numbers = value if isinstance(value, list) else [value]
    if len(numbers) != count or not all(_is_number(v) for v in numbers):
        raise UsageError(f"{where}: {key} needs {count} number{'s' if count > 1 else ''}.")
    scaled = tuple(float(v) * scale for v in numbers)
    return field_name, scaled if count > 1 else scaled[0]


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)
