"""Plain SVG marks for the report's plots, with a text alternative on every picture."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree as ET

SVG = "http://www.w3.org/2000/svg"
INK = "#22303c"
QUIET = "#5b6670"
FILL = "#3f6f8f"
FILL_2 = "#b3642c"
PALE = "#dfe6ea"
PAPER = "#ffffff"
BAND = "#f3e6d8"


class Picture:
    """An SVG picture being drawn; coordinates in its own units, y down.

    Parameters
    ----------
    width, height : float
        Size of the view box.
    title : str
        Short name read out by a screen reader.
    description : str
        What the picture shows, in a sentence with the main figures.
    """

    def __init__(self, width: float, height: float, title: str, description: str) -> None:
        self.width, self.height, self.title = width, height, title
        self.root = ET.Element(
            "svg",
            {
                "xmlns": SVG,
                "viewBox": f"0 0 {_n(width)} {_n(height)}",
                "role": "img",
                "aria-label": f"{title}. {description}",
                "font-family": "inherit",
                "font-size": "14",
            },
        )
        ET.SubElement(self.root, "title").text = title
        ET.SubElement(self.root, "desc").text = description

    def mark(self, kind: str, **attributes: object) -> ET.Element:
        """Add an element; underscores in names become hyphens, floats are shortened."""
        plain = {k.rstrip("_").replace("_", "-"): _n(v) for k, v in attributes.items()}
        return ET.SubElement(self.root, kind, plain)

    def text(self, x: float, y: float, words: str, **attributes: object) -> None:
        """Add a line of text."""
        style = {"fill": INK, **attributes}
        self.mark("text", x=x, y=y, **style).text = words

    def line(self, x1: float, y1: float, x2: float, y2: float, **attributes: object) -> None:
        """Add a straight line."""
        self.mark("line", x1=x1, y1=y1, x2=x2, y2=y2, **{"stroke": QUIET, **attributes})

    def polygon(self, points: Sequence[Sequence[float]], **attributes: object) -> None:
        """Add a closed polygon."""
        ring = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        self.mark("polygon", points=ring, **attributes)

    def source(self) -> str:
        """The picture as SVG text."""
        return ET.tostring(self.root, encoding="unicode")


def _n(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.2f}".rstrip("0").rstrip(".") or "0"
    return str(value)


def nice_ticks(top: float, wanted: int = 4) -> list[float]:
    """Round tick values from 0 to at least ``top``.

    Examples
    --------
    >>> nice_ticks(9)
    [0.0, 2.5, 5.0, 7.5, 10.0]
    """
    import math

    if not math.isfinite(top) or top <= 0:
        return [0.0, 1.0]
    rough = top / wanted
    size = 10 ** math.floor(math.log10(rough))
    step = next(s * size for s in (1, 2, 2.5, 5, 10) if s * size >= rough * 0.999)
    count = math.ceil(top / step - 1e-9)
    return [i * step for i in range(count + 1)]


def blended(share: float) -> str:
    """Colour between paper and the first colour.

    Examples
    --------
    >>> blended(0.0), blended(1.0)
    ('#ffffff', '#3f6f8f')
    """
    ends = [[int(color[k : k + 2], 16) for k in (1, 3, 5)] for color in (PAPER, FILL)]
    mixed = [round(a + (b - a) * share) for a, b in zip(*ends, strict=True)]
    return "#" + "".join(f"{value:02x}" for value in mixed)
