"""A check's or comparison's findings as text for people and as plain data for scripts."""

from __future__ import annotations

from typing import Any

from panelscan.checks.findings import WEIGHT_WORDS, CheckReport, Finding


def report_text(report: CheckReport) -> str:
    """The report as lines of text.

    Examples
    --------
    >>> print(report_text(CheckReport("page 3", "A4", ())).splitlines()[0])
    page 3 against A4: nothing to remark.
    """
    count = len(report.findings)
    head = "nothing to remark" if not count else f"{count} finding{'s' if count > 1 else ''}"
    lines = [f"{report.page} against {report.format_title}: {head}."]
    for f in report.findings:
        lines.append(f"{f.number:3}. {f.text} ({WEIGHT_WORDS[f.weight]}; {f.key})")
        lines.append(f"     {f.remedy}")
    if report.silenced:
        lines.append(f"Silenced: {', '.join(sorted({f.key for f in report.silenced}))}.")
    return "\n".join([*lines, *report.notes])


def report_data(report: CheckReport) -> dict[str, Any]:
    """The report as plain data, for JSON."""
    return {
        "page": report.page,
        "format": report.format_title,
        "clear": report.is_clear,
        "findings": [_finding_data(f) for f in report.findings],
        "silenced": [_finding_data(f) for f in report.silenced],
        "measures": {k: round(v, 3) for k, v in report.measures.items()},
        "notes": list(report.notes),
    }


def _finding_data(f: Finding) -> dict[str, Any]:
    return {
        "number": f.number,
        "rule": f.rule,
        "key": f.key,
        "weight": f.weight.value,
        "text": f.text,
        "remedy": f.remedy,
        "panels": [p + 1 for p in f.panels],
        "place_mm": None if f.place is None else [round(v, 2) for v in f.place],
        "value": None if f.value is None else round(f.value, 3),
        "limit": f.limit,
        "unit": f.unit,
    }
