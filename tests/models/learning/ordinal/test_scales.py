"""Scales learned by marginal likelihood, against a closed form and published shrinkage."""

from __future__ import annotations

import numpy as np
import pytest

from models.learning.ordinal.problem import Prior
from models.learning.ordinal.scales import moved_log_blocks

# Efron and Morris 1977, Scientific American 236(5):119: hits of eighteen players in 45 at-bats.
HITS = np.array([18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7])


def learned_variance(values: np.ndarray, variance: float, log_spread: float = np.inf) -> float:
    """Return the prior variance that a block learns from values of known sampling variance."""
    k, log_blocks = len(values), np.zeros(1)
    start = float(values.std())
    prior = Prior(np.zeros(k), np.full(k, start), np.zeros(k, np.int64), np.array([log_spread]))
    for _ in range(500):
        total = 1 / variance + prior.precision(log_blocks)
        log_blocks = moved_log_blocks(prior, log_blocks, values / variance / total, np.diag(total))
    return float(start * np.exp(log_blocks[0])) ** 2


def test_a_block_is_shrunk_as_the_evidence_asks() -> None:
    # MacKay 1992, Neural Computation 4:415: at the maximum of the evidence, prior and sampling
    # variance together are the mean square.
    values = np.random.default_rng(1).normal(0, 2, 40)
    assert learned_variance(values, 1.0) == pytest.approx(np.mean(values**2) - 1, rel=1e-6)


def test_batting_averages_are_shrunk_as_published() -> None:
    averages = HITS / 45
    centre = averages.mean()
    variance = centre * (1 - centre) / 45
    # Eighteen distances from their own mean are seventeen free ones.
    contrasts = np.linalg.qr(np.column_stack([np.ones(18), np.eye(18)[:, 1:]]))[0][:, 1:]
    learned = learned_variance(contrasts.T @ averages, variance)
    lost = variance / (variance + learned)
    # The published factor, .212, divides by k - 3 where the evidence divides by k - 1.
    assert 1 - lost * 15 / 17 == pytest.approx(0.212, abs=5e-4)


def test_what_is_believed_of_a_scale_holds_it() -> None:
    values = np.random.default_rng(1).normal(0, 2, 40)
    assert learned_variance(values, 1.0, 1e-3) == pytest.approx(values.var(), rel=1e-2)
