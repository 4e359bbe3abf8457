"""The table of columns for the documentation, made from the schema."""

from __future__ import annotations

import pyarrow as pa

from panelscan.corpus.schema import SCHEMA_VERSION, TABLES

BEGIN, END = "<!-- columns -->", "<!-- /columns -->"


def column_table_markdown() -> str:
    """Every column of every table, as Markdown.

    Returns
    -------
    str
        A table of columns for each table of the library, with name, type and meaning.

    Examples
    --------
    >>> print(column_table_markdown().splitlines()[0])
    Library version 1. Lengths in the unit of their name, `_share` columns of the page frame.
    """
    lines = [
        f"Library version {SCHEMA_VERSION}. Lengths in the unit of their name, `_share` columns"
        " of the page frame."
    ]
    for table, columns in TABLES.items():
        lines += ["", f"**{table}/**", "", "| column | type | meaning |", "|---|---|---|"]
        lines += [f"| `{c.name}` | {_word(c.kind)} | {c.meaning} |" for c in columns]
    return "\n".join(lines) + "\n"


def _word(kind: pa.DataType) -> str:
    if pa.types.is_struct(kind):
        return "struct of " + ", ".join(field.name for field in kind)
    if pa.types.is_list(kind):
        return f"list of {_word(kind.value_type)}"
    return {"double": "float64", "float": "float32"}.get(str(kind), str(kind))


def with_columns(text: str) -> str:
    """A document with the table of columns between its two markers.

    Raises
    ------
    ValueError
        If the markers are missing.
    """
    before, found, rest = text.partition(BEGIN)
    _, closed, after = rest.partition(END)
    if not found or not closed:
        raise ValueError(f"the document lacks {BEGIN} or {END}")
    return f"{before}{BEGIN}\n{column_table_markdown()}{END}{after}"
