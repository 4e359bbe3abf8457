"""Small made-up libraries with known habits, as the library's tables."""

from __future__ import annotations

import numpy as np
import pandas as pd

from panelscan.corpus.schema import TABLES


def made_up(
    pages: int = 60,
    books: int = 3,
    seed: int = 0,
    mean_panels: float = 5.0,
    gutter_mm: float = 4.0,
    bleed_share: float = 0.2,
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Pages of equal tiers with drawn panel counts, gutters and bleeds."""
    rng = np.random.default_rng(seed)
    counts = 1 + rng.poisson(mean_panels - 1, size=pages)
    page_rows, panel_rows, gutter_rows = [], [], []
    for number, count in enumerate(counts):
        page = _page(number, int(count), books, pages, rng.random() < bleed_share)
        page_rows.append(page)
        for place in range(count):
            panel_rows.append(_panel(page, place, int(count)))
            if place:
                gutter_rows.append(_gutter(page, place, rng.normal(gutter_mm, 0.3)))
    return (
        _frame("pages", page_rows),
        _frame("panels", panel_rows),
        _frame("gutters", gutter_rows),
    )


def _frame(table: str, rows: list[dict]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=[c.name for c in TABLES[table]])


def _page(number: int, count: int, books: int, pages: int, bleed: bool) -> dict:
    book = number * books // pages
    return {
        "page_id": f"p{number:05d}",
        "book": f"book {book}",
        "page_number": number + 1,
        "page_side": "right" if number % 2 == 0 else "left",
        "width_px": 1000,
        "height_px": 1500,
        "direction": "ltr",
        "confidence": 0.9,
        "panel_count": count,
        "tier_count": count,
        "tier_pattern": "-".join("1" * count),
        "clarity": 0.94,
        "symmetry": 1.0,
        "contrast": 1.0,
        "gutter_cv": 0.05,
        "tier_gutter_mm": 4.0,
        "tier_gutter_share": 0.02,
        "column_gutter_share": np.nan,
        "column_gutter_mm": np.nan,
        "bleed_left": bleed,
        "bleed_top": False,
        "bleed_right": False,
        "bleed_bottom": False,
        "density": 0.79,
        "readings": "[]",
        "reviewed": False,
        "margin_left_mm": 10.0,
        "margin_top_mm": 12.0,
        "margin_right_mm": 10.0,
        "margin_bottom_mm": 15.0,
    }


def _panel(page: dict, place: int, count: int) -> dict:
    top = 0.05 + 0.9 * place / count
    return {
        "page_id": page["page_id"],
        "book": page["book"],
        "page_number": page["page_number"],
        "reading_order": place + 1,
        "confidence": 0.95,
        "area_share": 0.9 * 0.88 / count,
        "x_min_share": 0.05,
        "y_min_share": top,
        "x_max_share": 0.95,
        "y_max_share": top + 0.88 / count,
        "aspect": 0.9 * count / (0.88 * 1.5),
        "shape": "rectangle",
        "slant_deg": 0.0,
        "is_full_tier": True,
        "is_inset": False,
        "depth": 0,
        "border_mm": 0.6,
        "wobble_mm": 0.05,
        "free_top_share": 0.3,
        "lettered_share": 0.1,
        "ink_density": 0.2,
    }


def _gutter(page: dict, place: int, width_mm: float) -> dict:
    return {
        "page_id": page["page_id"],
        "book": page["book"],
        "page_number": page["page_number"],
        "kind": "tier",
        "panel_a": place,
        "panel_b": place + 1,
        "width_mm": width_mm,
        "width_px": width_mm * 10,
        "width_share": width_mm / 200,
        "width_min_px": width_mm * 10,
        "width_max_px": width_mm * 10,
        "angle_deg": 0.0,
    }
