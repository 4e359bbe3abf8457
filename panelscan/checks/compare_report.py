"""A comparison as text, as plain data, and as a picture of both stages over each other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from xml.sax.saxutils import escape

from panelscan.checks.compare import ChangeKind, Comparison
from panelscan.model.outline import Outline, Point

_BEFORE, _AFTER, _MOVE = "#3a7ca5", "#1d1d1f", "#c1440e"
_HELD = {ChangeKind.MOVED, ChangeKind.RESIZED, ChangeKind.RESHAPED}


def comparison_text(result: Comparison) -> str:
    """The comparison as lines of text."""
    r = result.registration
    lines = [
        f"{result.before.name} -> {result.after.name}: {len(r.pairs)} panels answer each other; "
        f"laid over with a turn of {r.turn_deg:+.2f}° and a scale of {r.scale:.4f}."
    ]
    lines += [f"  {c.text}" for c in result.changes] or ["  Nothing moved."]
    for g in result.gutters:
        lines.append(
            f"  {g.kind.value.capitalize()} gutters: {g.mean_before:.1f} -> {g.mean_after:.1f} "
            f"{result.unit}, unevenness {g.cv_before * 100:.0f} % -> {g.cv_after * 100:.0f} %."
        )
    return "\n".join([*lines, *result.notes])


def comparison_data(result: Comparison) -> dict[str, Any]:
    """The comparison as plain data, for JSON."""
    r = result.registration
    return {
        "before": result.before.name,
        "after": result.after.name,
        "turn_deg": round(r.turn_deg, 4),
        "scale": round(r.scale, 6),
        "shift": [round(v, 3) for v in r.shift],
        "pairs": [[i + 1, j + 1] for i, j in r.pairs],
        "changes": [
            {
                "kind": c.kind.value,
                "before": [i + 1 for i in c.before],
                "after": [j + 1 for j in c.after],
                "text": c.text,
                "amount_mm": None if c.amount_mm is None else round(c.amount_mm, 3),
            }
            for c in result.changes
        ],
        "gutters": [
            {
                "kind": g.kind.value,
                "mean_before": round(g.mean_before, 3),
                "mean_after": round(g.mean_after, 3),
                "cv_before": round(g.cv_before, 4),
                "cv_after": round(g.cv_after, 4),
            }
            for g in result.gutters
        ],
        "unit": result.unit,
        "notes": list(result.notes),
    }


def comparison_svg(result: Comparison) -> str:
    """Both stages over each other: the earlier dashed, the later solid, moves as arrows."""
    shapes = [*result.laid, *result.after.outlines]
    if result.after.frame is not None:
        shapes.append(result.after.frame)
    x0, y0, x1, y1 = _bounds(shapes)
    tall = (y1 - y0) or 1.0
    pen = tall / 400
    box = (x0 - 8 * pen, y0 - 8 * pen, x1 - x0 + 16 * pen, y1 - y0 + 52 * pen)
    body = [
        f'<rect x="{box[0]:.3f}" y="{box[1]:.3f}" width="{box[2]:.3f}" height="{box[3]:.3f}" '
        'fill="#fbfaf6"/>'
    ]
    if result.after.frame is not None:
        body.append(_path(result.after.frame, "#c9c4b8", pen * 0.6))
    body += [_path(o, _AFTER, pen * 1.3) for o in result.after.outlines]
    body += [_path(o, _BEFORE, pen * 1.3, f"{4 * pen:.3f} {3 * pen:.3f}") for o in result.laid]
    for change in result.changes:
        if change.kind in _HELD:
            start = result.laid[change.before[0]].centroid
            body += _arrow(start, result.after.outlines[change.after[0]].centroid, pen)
    for j, outline in enumerate(result.after.outlines):
        x, y = outline.bounds[0] + 5 * pen, outline.bounds[1] + 15 * pen
        body.append(_text(x, y, 11 * pen, _AFTER, str(j + 1)))
    body += _legend(result, x0, y1 + 14 * pen, pen)
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{box[2] / tall * 900:.0f}" '
            f'height="{box[3] / tall * 900:.0f}" viewBox="{box[0]:.3f} {box[1]:.3f} '
            f'{box[2]:.3f} {box[3]:.3f}" font-family="sans-serif">',
            f"<title>{escape(result.before.name)} and {escape(result.after.name)}</title>",
            *body,
            "</svg>",
        ]
    )


def _bounds(shapes: Sequence[Outline]) -> tuple[float, float, float, float]:
    if not shapes:
        return 0.0, 0.0, 1.0, 1.0
    boxes = [o.bounds for o in shapes]
    return (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )


def _path(outline: Outline, colour: str, width: float, dash: str = "") -> str:
    path = " L ".join(f"{x:.3f} {y:.3f}" for x, y in outline.points)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="M {path} Z" fill="none" stroke="{colour}" stroke-width="{width:.4f}"{dashes}/>'
    )


def _arrow(start: Point, end: Point, pen: float) -> list[str]:
    """A line from the old middle to the new one, with a dot where it ends."""
    (ax, ay), (bx, by) = start, end
    return [
        f'<path d="M {ax:.3f} {ay:.3f} L {bx:.3f} {by:.3f}" stroke="{_MOVE}" '
        f'stroke-width="{pen * 1.2:.4f}"/>',
        f'<circle cx="{bx:.3f}" cy="{by:.3f}" r="{pen * 2.4:.4f}" fill="{_MOVE}"/>',
    ]


def _text(x: float, y: float, size: float, colour: str, text: str) -> str:
    return (
        f'<text x="{x:.3f}" y="{y:.3f}" font-size="{size:.3f}" fill="{colour}">'
        f"{escape(text)}</text>"
    )


def _legend(result: Comparison, x: float, y: float, pen: float) -> list[str]:
    """Which line is which stage."""
    lines = []
    stages = ((_BEFORE, result.before.name, True), (_AFTER, result.after.name, False))
    for n, (colour, name, dashed) in enumerate(stages):
        at = y + n * 12 * pen
        dash = f' stroke-dasharray="{4 * pen:.3f} {3 * pen:.3f}"' if dashed else ""
        lines.append(
            f'<path d="M {x:.3f} {at:.3f} h {22 * pen:.3f}" stroke="{colour}" '
            f'stroke-width="{pen * 1.3:.4f}"{dash}/>'
        )
        lines.append(_text(x + 27 * pen, at + 3 * pen, 9 * pen, colour, name))
    return lines
