"""Published figures to stand beside an artist's own: a norm is a neighbour, not a mark."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Norm:
    """A published figure.

    Parameters
    ----------
    key : str
        The `Figure` it stands beside.
    low, high : float
        Band; equal where one value is published.
    text : str
        The value in words.
    source : str
        Who published it, when, where.
    standing : str
        How sure it is: ``"read at the source"``, ``"worked out from the source"``,
        ``"second-hand"``, ``"from memory"`` or ``"common practice, no source"``.
    """

    key: str
    low: float
    high: float
    text: str
    source: str
    standing: str


NORMS = (
    Norm(
        "panels_per_page_mean",
        4.91,
        5.13,
        "manga: 4.9 to 5.1 panels a page",
        "Manga109 (Aizawa et al. 2020, IEEE MultiMedia; project page, release 2023.12.07): "
        "103,850 frames on 10,130 annotated double pages, or over all 21,142 pages",
        "worked out from the source",
    ),
    Norm(
        "panels_per_page_mean",
        6.19,
        6.19,
        "US books before 1960: 6.2 panels a page",
        "COMICS (Iyyer et al., CVPR 2017): 1,229,664 panels on 198,657 pages",
        "from memory",
    ),
    Norm(
        "panels_per_page_mean",
        8.5,
        8.5,
        "mixed European, US, Japanese pages: 8.5 a page",
        "eBDtheque (Guerin et al., ICDAR 2013): 850 panels on 100 pages",
        "from memory",
    ),
    Norm(
        "tier_gutter_mm",
        2.0,
        8.0,
        "2 to 4 mm printed (US); 5 to 8 mm on a manga sheet",
        "trade habit",
        "common practice, no source",
    ),
    Norm(
        "column_gutter_mm",
        2.0,
        4.0,
        "2 to 4 mm printed (US); 2 to 3 mm on a manga sheet",
        "trade habit",
        "common practice, no source",
    ),
    Norm(
        "gutter_ratio",
        1.0,
        3.0,
        "tier gutters wider than column gutters, manga 2 to 3 times",
        "trade habit; agrees with the effect of separation in Cohn 2013, "
        "doi 10.3389/fpsyg.2013.00186",
        "second-hand",
    ),
    Norm(
        "border_mm",
        0.5,
        1.0,
        "0.5 to 1.0 mm on the board",
        "trade habit",
        "common practice, no source",
    ),
    Norm(
        "tiers_mean",
        3.0,
        3.0,
        "three tiers, the usual skeleton",
        "trade habit",
        "common practice, no source",
    ),
    Norm(
        "free_top_share",
        0.33,
        0.33,
        "about the top third of a panel kept clear for lettering",
        "trade habit",
        "common practice, no source",
    ),
)


def norms_for(key: str) -> tuple[Norm, ...]:
    """Published figures that stand beside a figure, perhaps none.

    Examples
    --------
    >>> [n.low for n in norms_for("tiers_mean")]
    [3.0]
    """
    return tuple(n for n in NORMS if n.key == key)
