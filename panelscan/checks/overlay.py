"""Findings drawn on the page as SVG: panels, trim and live area, numbered marks."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from xml.sax.saxutils import escape, quoteattr

from panelscan.checks.findings import CheckReport, Finding, Weight
from panelscan.checks.page import CheckedPage
from panelscan.model.formats import Box
from panelscan.model.outline import Outline, Point

_COLOURS = {Weight.PRINT: "#b3261e", Weight.LOOK: "#a05a00", Weight.NOTE: "#4a5a6a"}
_LETTER_MM, _LETTER_WIDTH, _LINE_MM = 3.4, 0.6, 4.8
"""Height of a letter, its width in heights (that of a wide sans serif), from line to line."""
_PANEL, _GUIDE, _PAPER = "#5f6b76", "#7fb8cc", "#fbfaf6"


def overlay_svg(page: CheckedPage, report: CheckReport, picture: str | None = None) -> str:
    """The page with its findings, in millimetres.

    Parameters
    ----------
    page : CheckedPage
        The page.
    report : CheckReport
        Its findings.
    picture : str, optional
        Address of the page's picture (a ``data:`` address or a file name), laid underneath
        where the picture's frame lies.

    Returns
    -------
    str
        SVG. Findings without a place stand below the page.
    """
    trim = page.page_format.trim_mm
    margin = max(8.0, page.page_format.bleed_mm + 4.0)
    placed = [f for f in report.findings if f.place is not None]
    loose = [f for f in report.findings if f.place is None]
    listed, below = _listed(loose, trim[1] + margin, trim[0] + margin)
    box = (-margin, -margin, trim[0] + 2 * margin, trim[1] + 2 * margin + below)
    body = [_rect((box[0], box[1], box[0] + box[2], box[1] + box[3]), _PAPER, "none", 0)]
    body.append(_rect((0, 0, *trim), "#ffffff", "none", 0))
    if picture is not None:
        x0, y0, x1, y1 = page.shown
        body.append(
            f'<image x="{x0:.3f}" y="{y0:.3f}" width="{x1 - x0:.3f}" height="{y1 - y0:.3f}" '
            f'preserveAspectRatio="none" href={quoteattr(picture)}/>'
        )
    body += _guides(page)
    body += [_outline(o, _PANEL, 0.5) for o in page.outlines]
    body += [line for f in placed for line in _marks(f)]
    body += [_badge(f, x, y) for f, (x, y) in badge_places(placed)]
    body += listed
    return _document(box, report.page, body)


def _document(box: Box, title: str, body: Sequence[str]) -> str:
    x, y, w, h = box
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{w:.2f}mm" height="{h:.2f}mm" '
            f'viewBox="{x:.2f} {y:.2f} {w:.2f} {h:.2f}" font-family="sans-serif">',
            f"<title>{escape(title)}</title>",
            *body,
            "</svg>",
        ]
    )


def _guides(page: CheckedPage) -> list[str]:
    guides = [_rect((0, 0, *page.page_format.trim_mm), "none", _GUIDE, 0.3)]
    if page.page_format.bleed_mm > 0:
        guides.append(_rect(page.page_format.bleed_box_mm, "none", _GUIDE, 0.3, "4 2"))
    guides.append(_rect(page.page_format.live_box_mm, "none", _GUIDE, 0.3, "2 1"))
    return guides


def _rect(b: Box, fill: str, stroke: str, width: float, dash: str = "") -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<rect x="{b[0]:.3f}" y="{b[1]:.3f}" width="{b[2] - b[0]:.3f}" '
        f'height="{b[3] - b[1]:.3f}" fill="{fill}" stroke="{stroke}" '
        f'stroke-width="{width:g}"{dashes}/>'
    )


def _outline(outline: Outline, colour: str, width: float) -> str:
    return _line((*outline.points, outline.points[0]), colour, width)


def _line(points: Sequence[Point], colour: str, width: float, opacity: float = 1.0) -> str:
    path = " L ".join(f"{x:.3f} {y:.3f}" for x, y in points)
    return (
        f'<path d="M {path}" fill="none" stroke="{colour}" stroke-width="{width:g}" '
        f'stroke-opacity="{opacity:g}" stroke-linecap="round"/>'
    )


def _marks(f: Finding) -> list[str]:
    return [_line(mark, _COLOURS[f.weight], 1.4, 0.55) for mark in f.marks]


def badge_places(findings: Sequence[Finding]) -> list[tuple[Finding, Point]]:
    """Where each finding's number stands: its place, pushed on where another stands already."""
    taken: list[Point] = []
    found = []
    for f in findings:
        if f.place is None:
            continue
        x, y = f.place
        while any((x - a) ** 2 + (y - b) ** 2 < 7.5**2 for a, b in taken):
            x, y = x + 5.0, y + 5.6
        taken.append((x, y))
        found.append((f, (x, y)))
    return found


def _badge(f: Finding, x: float, y: float) -> str:
    return (
        f'<g><title>{escape(f.text)}</title><circle cx="{x:.2f}" cy="{y:.2f}" r="3.4" '
        f'fill="{_COLOURS[f.weight]}" stroke="#ffffff" stroke-width="0.5"/>'
        f'<text x="{x:.2f}" y="{y + 1.35:.2f}" font-size="3.9" text-anchor="middle" '
        f'fill="#ffffff">{f.number}</text></g>'
    )


def _listed(findings: Sequence[Finding], y: float, right: float) -> tuple[list[str], float]:
    """Findings on the page as a whole, below it, and the height that they take."""
    left, lines, at = 9.0, [], y + 3.0
    letters = int((right - left) / (_LETTER_WIDTH * _LETTER_MM))
    for f in findings:
        lines.append(_badge(f, 3.4, at))
        for part in textwrap.wrap(f.text, letters):
            lines.append(
                f'<text x="{left:g}" y="{at + 1.2:.2f}" font-size="{_LETTER_MM}" '
                f'fill="#222222">{escape(part)}</text>'
            )
            at += _LINE_MM
        at += 7.0 - _LINE_MM
    return lines, at - y + 1.0 if findings else 0.0
