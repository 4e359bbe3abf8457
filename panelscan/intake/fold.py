"""Where the fold of facing pages lies in one image, and whether art runs across it.

A fold is found as the one upright line near the middle where nothing of either page
crosses: a strip that changes along its length only by shading (two inner margins, with or
without the shadow or ridge of the fold), or a line where two different pictures meet.
The white-run idea is that of Stamatopoulos, Gatos and Georgiou (DAS 2010, page frame
detection for double page document images); the rest is our own.

Kept whole, since nothing tells them from a double-page picture: scans of facing pages where
art of both runs into the fold. Weak: black pages on a scanner bed that is hardly lighter.
`scripts/score_folds.py` tells how often all this is right.

Frame: a small gray image, column x covers x..x+1; rows run down.
"""

from __future__ import annotations

import cv2
import numpy as np

from panelscan.intake.fold_report import Fold, FoldReport, FoldSettings
from panelscan.intake.fold_shading import small_gray
from panelscan.intake.fold_strip import Middle, Sheet

SLANTS_DEG = (0.0, 0.4, -0.4, 0.8, -0.8, 1.2, -1.2, 1.9, -1.9, 2.6, -2.6, 3.3, -3.3)


def find_fold(pixels: np.ndarray, settings: FoldSettings | None = None) -> FoldReport:
    """Look for the fold of facing pages.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (M, N) or (M, N, 3)
        The whole image.
    settings : FoldSettings or None
        Tolerances.

    Returns
    -------
    FoldReport
    """
    settings = settings or FoldSettings()
    sheet = Sheet(small_gray(pixels), settings)
    report = Middle(sheet, 0.0).clean_strip()
    if report.fold is None and report.may_meet:
        joined = joined_share(pixels, sheet.paper, sheet.threshold)
        if joined >= settings.step_share:
            return FoldReport(Fold(0.5, "meeting"), "", {"joined": joined})
    for slant in SLANTS_DEG[1:]:
        if report.fold is not None or not report.may_meet:
            break
        found = Middle(sheet, slant).clean_strip()
        report = found if found.fold is not None else report
    return report


def joined_share(pixels: np.ndarray, paper: float, threshold: float) -> float:
    """Share of the rows with art in the very middle that change from one pixel to the next.

    Two exported pages joined edge to edge differ exactly there, and nowhere else so sharply.
    Zero where fewer than a twelfth of the rows have art, or where other columns beside are
    like it.
    """
    middle, reach = pixels.shape[1] / 2, 10
    a, b = int(middle) - reach, int(middle) + reach + pixels.shape[1] % 2
    part = pixels[:, max(0, a) : b]
    if part.ndim == 3:
        part = cv2.cvtColor(np.ascontiguousarray(part), cv2.COLOR_RGB2GRAY)
    part = part.astype(np.float32)
    change = np.abs(np.diff(part, axis=1)) > threshold
    centre = part.shape[1] // 2
    beside = np.abs(part[:, centre - 4 : centre + 4] - paper).max(axis=1)
    art = beside > threshold
    if art.mean() < 1 / 12:
        return 0.0
    shares = change[art].mean(axis=0)
    at = max(range(centre - 2, centre + 2), key=lambda k: shares[k])
    rest = np.delete(shares, range(at - 1, at + 2))
    return float(shares[at]) if shares[at] >= 2.0 * max(0.05, rest.max()) else 0.0
