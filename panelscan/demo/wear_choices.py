"""Wear by chance: clean exports, fair scans, poor scans and photos."""

from __future__ import annotations

import numpy as np

from panelscan.demo.raster import RGB
from panelscan.demo.wear import Wear


def choose_wear(category: str, rng: np.random.Generator) -> Wear:
    """Wear of a page: mostly a clean export or a fair scan; poor in the category for it."""
    draw = rng.random()
    if category == "scan":
        return poor_photo(rng) if draw < 0.4 else poor_scan(rng)
    if category == "low-resolution":
        return Wear(height_px=int(rng.integers(560, 680)), jpeg=int(rng.integers(55, 92)))
    if category == "one-bit":
        return Wear(
            one_bit=True,
            blur_px=0.6,
            noise=float(rng.uniform(0, 8)),
            skew_deg=float(rng.normal() * 0.4) if draw < 0.4 else 0.0,
        )
    if category == "mixed" and draw < 0.35:
        return poor_scan(rng)
    if category in ("gutter", "ground", "borderless") or draw < 0.55:
        return Wear(jpeg=int(rng.integers(78, 97))) if rng.random() < 0.7 else Wear()
    return fair_scan(rng)


def fair_scan(rng: np.random.Generator) -> Wear:
    """A decent scan of an original or a print."""
    return Wear(
        skew_deg=float(rng.normal() * 0.35),
        bed_rgb=_bed(rng) if rng.random() < 0.4 else None,
        bed_share=float(rng.uniform(0.01, 0.05)),
        paper_rgb=tuple(int(v) for v in 252 - rng.integers(0, 10, 3))
        if rng.random() < 0.6
        else None,  # type: ignore[arg-type]
        blur_px=float(rng.uniform(0.4, 1.0)),
        noise=float(rng.uniform(1, 4)),
        jpeg=int(rng.integers(70, 95)),
        gray=bool(rng.random() < 0.15),
    )


def poor_scan(rng: np.random.Generator) -> Wear:
    """A poor scan: turned, yellow, uneven, noisy."""
    return Wear(
        skew_deg=float(np.clip(rng.normal() * 1.8, -5, 5)),
        bed_rgb=_bed(rng) if rng.random() < 0.7 else None,
        bed_share=float(rng.uniform(0.015, 0.09)),
        paper_rgb=(
            int(rng.integers(228, 252)),
            int(rng.integers(214, 238)),
            int(rng.integers(170, 220)),
        ),
        show_through=float(rng.choice([0, 0.08, 0.16])),
        shade=float(rng.uniform(0, 0.3)),
        blur_px=float(rng.uniform(0.6, 1.7)),
        noise=float(rng.uniform(3, 12)),
        jpeg=int(rng.integers(30, 75)),
        holes=bool(rng.random() < 0.25),
        gray=bool(rng.random() < 0.2),
    )


def poor_photo(rng: np.random.Generator) -> Wear:
    """A picture taken by hand with a phone."""
    return Wear(
        skew_deg=float(np.clip(rng.normal() * 2, -5, 5)),
        perspective=float(rng.uniform(0.01, 0.045)),
        bed_rgb=_bed(rng),
        bed_share=float(rng.uniform(0.03, 0.1)),
        paper_rgb=(
            int(rng.integers(236, 253)),
            int(rng.integers(228, 246)),
            int(rng.integers(205, 236)),
        ),
        shade=float(rng.uniform(0.1, 0.4)),
        blur_px=float(rng.uniform(0.6, 1.6)),
        noise=float(rng.uniform(2, 9)),
        jpeg=int(rng.integers(45, 85)),
    )


def _bed(rng: np.random.Generator) -> RGB:
    beds: list[RGB] = [
        (18, 18, 20),
        (44, 42, 40),
        (238, 238, 236),
        (206, 208, 210),
        (122, 92, 66),
        (96, 104, 98),
    ]
    return beds[int(rng.choice(6, p=[0.3, 0.15, 0.15, 0.15, 0.15, 0.1]))]
