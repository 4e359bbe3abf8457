"""Figures over many pages: average precision, calibration, intervals, deskew errors.

References
----------
Everingham, M. et al. (2010), "The Pascal Visual Object Classes (VOC) challenge", IJCV 88,
doi 10.1007/s11263-009-0275-4 (11-point and all-point average precision).
Lin, T.-Y. et al. (2014), "Microsoft COCO: common objects in context", ECCV,
doi 10.1007/978-3-319-10602-1_48 (101-point average precision).
Wilson, E. B. (1927), "Probable inference, the law of succession, and statistical
inference", JASA 22, doi 10.1080/01621459.1927.10502953.
Papandreou, A. et al. (2013), "ICDAR 2013 document image skew estimation contest (DISEC
2013)", ICDAR, doi 10.1109/ICDAR.2013.291 (AED, TOP80, CE).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class AveragePrecision:
    """Average precision by three rules in use."""

    eleven_point: float
    all_point: float
    coco_101: float


def average_precision(
    scores: Sequence[float], right: Sequence[bool], truths: int
) -> AveragePrecision:
    """Average precision of scored detections.

    Parameters
    ----------
    scores : sequence of float
        Confidence of each detection; equal scores keep the order given.
    right : sequence of bool
        Whether each detection is a true positive.
    truths : int
        Number of true things, at least 1.

    Raises
    ------
    ValueError
        If there is nothing to find.

    Examples
    --------
    >>> average_precision([0.9, 0.8], [True, False], 1).all_point
    1.0
    """
    if truths < 1:
        raise ValueError("average precision needs at least one true thing")
    rank = np.argsort(-np.asarray(scores, dtype=np.float64), kind="stable")
    hits = np.cumsum(np.asarray(right, dtype=np.float64)[rank])
    recall = hits / truths
    precision = hits / np.arange(1, len(hits) + 1)
    monotone = np.maximum.accumulate(precision[::-1])[::-1]
    steps = np.diff(np.concatenate([[0.0], recall]))
    return AveragePrecision(
        _sampled(recall, monotone, np.linspace(0, 1, 11)),
        float(np.sum(steps * monotone)),
        _sampled(recall, monotone, np.linspace(0, 1, 101)),
    )


def _sampled(recall: np.ndarray, monotone: np.ndarray, at: np.ndarray) -> float:
    place = np.searchsorted(recall, at - 1e-12, side="left")
    values = np.append(monotone, 0.0)
    return float(values[np.minimum(place, len(monotone))].mean())


def calibration_error(confidence: Sequence[float], right: Sequence[bool], bins: int = 15) -> float:
    """Expected calibration error over bins of equal mass: mean |confidence - share right|.

    Examples
    --------
    >>> calibration_error([0.75] * 4, [True, True, True, False])
    0.0
    """
    if not len(confidence):
        return math.nan
    c = np.asarray(confidence, dtype=np.float64)
    r = np.asarray(right, dtype=np.float64)
    rank = np.argsort(c, kind="stable")
    # Equal confidences belong together: a bin edge inside a run of ties would measure chance.
    edges = [0]
    for k in range(1, bins):
        edge = round(k * len(c) / bins)
        while 0 < edge < len(c) and c[rank[edge]] == c[rank[edge - 1]]:
            edge += 1
        if edge > edges[-1]:
            edges.append(edge)
    edges.append(len(c))
    total = 0.0
    for start, stop in itertools.pairwise(edges):
        part = rank[start:stop]
        if len(part):
            total += abs(float(c[part].mean() - r[part].mean())) * len(part)
    return total / len(c)


def risk_coverage(confidence: Sequence[float], right: Sequence[bool]) -> list[tuple[float, float]]:
    """Share of errors among the most confident answers, for each share that is accepted.

    Returns
    -------
    list of (coverage, risk)
        One per answer, most confident first.

    Examples
    --------
    >>> risk_coverage([0.9, 0.2], [True, False])
    [(0.5, 0.0), (1.0, 0.5)]
    """
    rank = np.argsort(-np.asarray(confidence, dtype=np.float64), kind="stable")
    wrong = np.cumsum(~np.asarray(right, dtype=bool)[rank])
    n = len(rank)
    return [((k + 1) / n, float(wrong[k]) / (k + 1)) for k in range(n)]


def right_at_coverage(confidence: Sequence[float], right: Sequence[bool], coverage: float) -> float:
    """Share right among the ``coverage`` most confident answers; nan where there are none."""
    curve = risk_coverage(confidence, right)
    if not curve:
        return math.nan
    place = max(round(coverage * len(curve)), 1) - 1
    return 1.0 - curve[place][1]


def wilson_interval(
    hits: float, trials: float, z: float = 1.959963984540054
) -> tuple[float, float]:
    """Wilson score interval of a share (95 % as it stands).

    Examples
    --------
    >>> [round(v, 3) for v in wilson_interval(291, 300)]
    [0.944, 0.984]
    """
    if trials <= 0:
        return 0.0, 1.0
    p = hits / trials
    middle = (p + z * z / (2 * trials)) / (1 + z * z / trials)
    reach = z * math.sqrt(p * (1 - p) / trials + z * z / (4 * trials * trials))
    reach /= 1 + z * z / trials
    return max(middle - reach, 0.0), min(middle + reach, 1.0)


def bootstrap_interval(
    books: Sequence[Hashable],
    values: Sequence[Sequence[float]],
    figure: Callable[[np.ndarray], float],
    rounds: int = 2000,
    seed: int = 0,
) -> tuple[float, float]:
    """95 % interval of a figure, drawing whole books with replacement.

    Parameters
    ----------
    books : sequence
        Book of each page.
    values : sequence of sequence of float, shape (N, K)
        Additive counts of each page (for F1: hits, extra, missed).
    figure : callable
        Figure from the summed counts, an array of shape (K,).
    rounds : int
        Number of draws.
    seed : int
        Same seed, same interval.

    Returns
    -------
    tuple of float
        2.5th and 97.5th percentile.

    Notes
    -----
    Pages of a book resemble one another, so pages are not independent and the book is drawn
    as a whole (cluster bootstrap; Davison and Hinkley 1997, "Bootstrap methods and their
    application", section 3.8).
    """
    names = {b: i for i, b in enumerate(dict.fromkeys(books))}
    if not names:
        return math.nan, math.nan
    table = np.asarray(values, dtype=np.float64)
    sums = np.zeros((len(names), table.shape[1]))
    np.add.at(sums, [names[b] for b in books], table)
    rng = np.random.default_rng(seed)
    draws = rng.integers(0, len(sums), size=(rounds, len(sums)))
    figures = [figure(sums[d].sum(axis=0)) for d in draws]
    low, high = np.nanpercentile(figures, [2.5, 97.5])
    return float(low), float(high)


@dataclass(frozen=True, slots=True)
class DeskewErrors:
    """Errors of estimated page turns in degrees.

    Parameters
    ----------
    aed : float
        Mean absolute error.
    top80 : float
        Mean of the best 80 % of the pages.
    ce : float
        Share of pages within 0.1 degree.
    worst : float
        Greatest error.
    """

    aed: float
    top80: float
    ce: float
    worst: float


def deskew_errors(true_deg: Sequence[float], found_deg: Sequence[float]) -> DeskewErrors:
    """DISEC measures of estimated page turns.

    Examples
    --------
    >>> deskew_errors([0, 0, 0, 0, 0], [0, 0, 0, 0.0625, 1]).ce
    0.8
    """
    errors = np.sort(np.abs(np.asarray(true_deg, float) - np.asarray(found_deg, float)))
    if not len(errors):
        return DeskewErrors(math.nan, math.nan, math.nan, math.nan)
    best = errors[: max(int(len(errors) * 0.8), 1)]
    within = float(np.mean(errors <= 0.1 + 1e-12))
    return DeskewErrors(float(errors.mean()), float(best.mean()), within, float(errors[-1]))
