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
        Band; equal where one value is published, NaN where it is said in words only.
    text : str
        The value in words.
    source : str
        Who published it, when, where.
    standing : str
        How sure it is: ``"read at the source"``, ``"worked out from the source"``,
        ``"read in the abstract"``, ``"one trade page"``, ``"second-hand"``, ``"from memory"``
        or ``"common practice, no source"``.
    """

    key: str
    low: float
    high: float
    text: str
    source: str
    standing: str


_PAGES_2019 = (
    'Cohn, N. et al. (2019), "The cultural pages of comics", Journal of Graphic Novels and '
    "Comics 10, doi 10.1080/21504857.2017.1413667"
)
_PAGES_2016 = (
    'Pederson, K. and Cohn, N. (2016), "The changing pages of comics", Studies in Comics 7: '
    "40 US superhero comics of 1940 to 2014"
)
_PRINTER = "one printer's sheet for a US page of 6.625 x 10.25 in; your printer's own sheet counts"
NAN = float("nan")

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
        "panels_per_page_mean",
        3.0,
        6.0,
        "as a habit, US pages have 5 to 6 panels, manga pages 3 to 4",
        "a scriptwriter's advice (C. Dixon)",
        "second-hand",
    ),
    Norm(
        "full_tier_share",
        NAN,
        NAN,
        "panels over a whole row became more frequent over the decades, most in US books",
        f"{_PAGES_2016}; {_PAGES_2019}",
        "read in the abstract",
    ),
    Norm(
        "bleed_share",
        NAN,
        NAN,
        "more bleeds on pages from Japan and Hong Kong than on European and US pages",
        _PAGES_2019,
        "read in the abstract",
    ),
    Norm(
        "gutter_cv",
        NAN,
        NAN,
        "gutters vary more on US mainstream pages than on others",
        _PAGES_2019,
        "read in the abstract",
    ),
    Norm(
        "clarity",
        94.0,
        95.0,
        "94 to 95 % of readers go row by row on a plain grid",
        "Cohn 2013, doi 10.3389/fpsyg.2013.00186; Cohn and Campbell 2015, doi 10.1002/acp.3086",
        "second-hand",
    ),
    *(
        Norm(
            f"margin_{edge}",
            mm,
            mm,
            f"{mm:.1f} mm from trim to live area on a US page",
            _PRINTER,
            "one trade page",
        )
        for edge, mm in (("left", 7.9375), ("top", 12.7), ("right", 7.9375), ("bottom", 19.05))
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
