from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sklearn.metrics import average_precision_score, ndcg_score, top_k_accuracy_score

from panelscan.finder.retrieval import average_precision, ndcg_at, recall_at


@given(st.integers(0, 2**32 - 1), st.integers(2, 30), st.integers(1, 12))
@settings(deadline=None)
def test_ndcg_equals_scikit_learns(seed, size, count):
    # scikit-learn's ndcg_score: linear gain, log2 discount, ties averaged (none here).
    rng = np.random.default_rng(seed)
    gains = rng.integers(0, 4, size).astype(float)
    gains[0] = 1.0
    scores = rng.permutation(size).astype(float)
    order = np.argsort(-scores)
    ours = ndcg_at(gains[order], gains, count)
    assert ours == pytest.approx(ndcg_score([gains], [scores], k=count))


@given(st.integers(0, 2**32 - 1), st.integers(2, 40))
@settings(deadline=None)
def test_average_precision_equals_scikit_learns(seed, size):
    rng = np.random.default_rng(seed)
    relevant = rng.random(size) < 0.4
    relevant[0] = True
    scores = rng.permutation(size).astype(float)
    order = np.argsort(-scores)
    assert average_precision(relevant[order]) == pytest.approx(
        average_precision_score(relevant, scores)
    )


@given(st.integers(0, 2**32 - 1), st.integers(3, 20), st.integers(1, 5))
@settings(deadline=None)
def test_recall_of_one_thing_equals_scikit_learns_top_k_accuracy(seed, classes, count):
    rng = np.random.default_rng(seed)
    count = min(count, classes - 1)
    scores = rng.permutation(classes).astype(float)
    truth = int(rng.integers(classes))
    ours = recall_at(list(np.argsort(-scores)), {truth}, count)
    theirs = top_k_accuracy_score([truth], [scores], k=count, labels=np.arange(classes))
    assert ours == theirs


def test_edges():
    assert average_precision([False, False]) == 0.0
    assert ndcg_at([0, 0], [0, 0], 2) == 0.0
    with pytest.raises(ValueError, match="nothing is wanted"):
        recall_at([1], set(), 1)
