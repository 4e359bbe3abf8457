"""A contact sheet as one offline HTML file: no script, no request, prints well."""

from __future__ import annotations

from html import escape

from panelscan.finder.cards import Card, CardSheet
from panelscan.finder.colours import GIVE, INK, PAGE, PAPER, QUIET
from panelscan.finder.contact_marks import Marks, page_marks
from panelscan.finder.contact_svg import data_address, svg_of

DRAWN_HEIGHT = 230.0
STYLE = f"""
:root {{ color-scheme: light; }}
body {{ margin: 0 auto; padding: 1.5rem; max-width: 84rem; background: {PAPER}; color: {INK};
  font: 15px/1.45 Georgia, 'DejaVu Serif', serif; }}
h1 {{ font-size: 1.3rem; margin: 0 0 .4rem; }}
h2 {{ font-size: 1rem; margin: 0; }}
.remark, .under, .reasons {{ color: {QUIET}; }}
.under {{ margin: 0 0 .5rem; font-size: .9rem; min-height: 1.3em; }}
main {{ display: flex; flex-wrap: wrap; gap: 1.6rem 2rem; align-items: flex-start;
  margin-top: 1.2rem; }}
.spread {{ display: flex; gap: .6rem; padding: .8rem; background: {PAGE}; }}
article {{ width: 18rem; max-width: 100%; break-inside: avoid; }}
.drawn {{ display: flex; gap: .6rem; align-items: flex-start; }}
.drawn svg, .drawn img {{ height: {DRAWN_HEIGHT:.0f}px; max-width: 100%; width: auto; }}
.drawn.two svg, .drawn.two img {{ height: auto; width: calc(50% - .3rem); }}
ol.beats {{ list-style: none; margin: .6rem 0 0; padding: 0; font-size: .9rem; }}
ol.beats li {{ display: flex; gap: .5rem; margin: .15rem 0; }}
ol.beats b {{ min-width: 1.9em; text-align: center; border: 1px solid {INK}; height: 1.35em;
  line-height: 1.35em; font-size: .85em; }}
ul {{ margin: .5rem 0 0; padding-left: 1.1rem; font-size: .9rem; }}
.gives {{ color: {GIVE}; list-style-type: "▸ "; }}
@media (max-width: 40rem) {{ .spread {{ flex-wrap: wrap; }} article {{ width: 100%; }} }}
@media print {{ body {{ padding: 0; font-size: 11px; }} }}
"""
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def html_of(sheet: CardSheet) -> str:
    """HTML text of a sheet."""
    remarks = "".join(f'<p class="remark">{escape(r)}</p>' for r in sheet.remarks)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        f"<title>{escape(sheet.heading)}</title><style>{STYLE}</style></head>\n"
        f"<body><h1>{escape(sheet.heading)}</h1>{remarks}\n<main>{_cards(sheet.cards)}</main>"
        "</body></html>\n"
    )


def _cards(cards: tuple[Card, ...]) -> str:
    """Articles, facing pages held together."""
    out, k = [], 0
    while k < len(cards):
        if cards[k].joins_next and k + 1 < len(cards):
            out.append(f'<div class="spread">{"".join(map(_card, cards[k : k + 2]))}</div>')
            k += 2
        else:
            out.append(_card(cards[k]))
            k += 1
    return "\n".join(out)


def _card(card: Card) -> str:
    drawn = _drawing(card)
    two = ""
    if card.picture is not None:
        two = " two"
        drawn += (
            f'<img src="{data_address(card.picture)}" '
            f'alt="{escape(f"Picture of the page: {card.title}", quote=True)}">'
        )
    beats = "".join(
        f'<li><b style="background:{color}">{escape(label)}</b><span>{escape(text)}</span></li>'
        for label, color, text in card.legend
    )
    return (
        f'<article><h2>{escape(card.title)}</h2><p class="under">{escape(card.under)}</p>'
        f'<div class="drawn{two}">{drawn}</div>'
        + (f'<ol class="beats">{beats}</ol>' if beats else "")
        + _listed(card.reasons, "reasons")
        + _listed(card.gives, "gives")
        + "</article>"
    )


def _drawing(card: Card) -> str:
    width = DRAWN_HEIGHT * card.aspect
    marks = page_marks(card, 1.0, 1.0, width)
    sheet = Marks(width + 2, DRAWN_HEIGHT + 2, tuple(marks), card.title, card.description)
    return svg_of(sheet, background=False, sized=False)


def _listed(sentences: tuple[str, ...], kind: str) -> str:
    items = "".join(f"<li>{escape(s)}</li>" for s in sentences)
    return f'<ul class="{kind}">{items}</ul>' if items else ""
