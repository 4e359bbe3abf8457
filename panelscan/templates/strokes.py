"""Letters and figures as plain strokes, so that every writer draws them alike.

Plain capitals of our own on a grid four wide and six high, one polyline per pen stroke;
lower-case text is set in capitals, as comic lettering is.
"""

from __future__ import annotations

import unicodedata

from panelscan.model.outline import Point

_WIDE, _HIGH, _ADVANCE = 4.0, 6.0, 5.6

_GLYPHS = {
    "0": "10 30 41 45 36 16 05 01 10",
    "1": "11 20 26|16 36",
    "2": "01 10 30 41 42 06 46",
    "3": "01 10 30 41 42 33 23|33 44 45 36 16 05",
    "4": "36 30 04 44",
    "5": "40 00 02 32 43 45 36 16 05",
    "6": "41 30 10 01 05 16 36 45 44 33 13 04",
    "7": "00 40 16",
    "8": "13 02 01 10 30 41 42 33 13 04 05 16 36 45 44 33",
    "9": "42 33 13 02 01 10 30 41 45 36 16 05",
    "A": "06 20 46|14 34",
    "B": "00 30 41 42 33 03|33 44 45 36 06 00",
    "C": "41 30 10 01 05 16 36 45",
    "D": "00 20 42 44 26 06 00",
    "E": "40 00 06 46|03 33",
    "F": "40 00 06|03 33",
    "G": "41 30 10 01 05 16 36 45 43 23",
    "H": "00 06|40 46|03 43",
    "I": "10 30|20 26|16 36",
    "J": "30 35 26 16 05",
    "K": "00 06|40 03 46",
    "L": "00 06 46",
    "M": "06 00 23 40 46",
    "N": "06 00 46 40",
    "O": "10 30 41 45 36 16 05 01 10",
    "P": "06 00 30 41 42 33 03",
    "Q": "10 30 41 45 36 16 05 01 10|24 46",
    "R": "06 00 30 41 42 33 03|23 46",
    "S": "41 30 10 01 02 13 33 44 45 36 16 05",
    "T": "00 40|20 26",
    "U": "00 05 16 36 45 40",
    "V": "00 26 40",
    "W": "00 16 23 36 40",
    "X": "00 46|40 06",
    "Y": "00 23 40|23 26",
    "Z": "00 40 06 46",
    "-": "13 33",
    ".": "16 15",
    ",": "24 25 16",
    ":": "11 12|14 15",
    "/": "40 06",
    "+": "21 25|03 43",
    "(": "30 21 25 36",
    ")": "10 21 25 16",
    "%": "46 00|30 41|05 16",
    "'": "20 11",
}


def text_strokes(text: str, place: Point, height_mm: float) -> list[tuple[Point, ...]]:
    """Pen strokes of a line of text.

    Parameters
    ----------
    text : str
        Accents are left off; letters without an entry here (other scripts) leave a space.
    place : tuple of float
        Top-left corner of the first letter.
    height_mm : float
        Cap height.

    Returns
    -------
    list of tuple of (x, y)
        One polyline per stroke.

    Examples
    --------
    >>> text_strokes("7", (0, 0), 6)
    [((0.0, 0.0), (4.0, 0.0), (1.0, 6.0))]
    """
    scale = height_mm / _HIGH
    found = []
    for n, letter in enumerate(_plain(text)):
        for stroke in filter(None, _GLYPHS.get(letter, "").split("|")):
            found.append(
                tuple(
                    (
                        place[0] + (n * _ADVANCE + int(at[0])) * scale,
                        place[1] + int(at[1]) * scale,
                    )
                    for at in stroke.split()
                )
            )
    return found


def _plain(text: str) -> str:
    """Capitals without accents, one for each letter of the text.

    Examples
    --------
    >>> _plain("Möwe")
    'MOWE'
    """
    return "".join(unicodedata.normalize("NFKD", letter)[:1].upper()[:1] for letter in text)


def text_width(text: str, height_mm: float) -> float:
    """Width of a line of text, from its first letter's left to its last one's right.

    Examples
    --------
    >>> text_width("10", 6)
    9.6
    """
    if not text:
        return 0.0
    return ((len(text) - 1) * _ADVANCE + _WIDE) * height_mm / _HIGH
