"""Scores agree with worked examples."""

from __future__ import annotations

import numpy as np
import pytest

from models.learning.scores import (
    brier,
    expected_calibration_error,
    log_score,
    ranked_probability,
)

CHANCES = np.tile([0.1, 0.2, 0.4, 0.2, 0.1], (5, 1))
EVERY = np.arange(5)


def test_scores_of_every_outcome_of_a_five_point_scale() -> None:
    # Worked from the definitions in Gneiting and Raftery (2007).
    np.testing.assert_allclose(brier(CHANCES, EVERY), [1.06, 0.86, 0.46, 0.86, 1.06])
    logs = [2.3026, 1.6094, 0.9163, 1.6094, 2.3026]
    np.testing.assert_allclose(log_score(CHANCES, EVERY), logs, atol=5e-5)
    np.testing.assert_allclose(ranked_probability(CHANCES, EVERY), [1.4, 0.6, 0.2, 0.6, 1.4])


def test_calibration_error_in_five_bins() -> None:
    # Worked by hand: .125.
    stated = np.array([0.1, 0.15, 0.35, 0.4, 0.65, 0.7, 0.9, 0.95])
    happened = np.array([0.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 1.0])
    assert expected_calibration_error(stated, happened, 5) == pytest.approx(0.125)
    # Two-class Brier per class of the same rows: .155.
    both = np.column_stack([1.0 - stated, stated])
    assert brier(both, happened.astype(int)).mean() / 2 == pytest.approx(0.155, abs=5e-4)


def test_binary_brier_of_the_textbook_example() -> None:
    # scikit-learn documentation (from memory): .0375 per class.
    second = np.array([0.1, 0.9, 0.8, 0.3])
    both = np.column_stack([1.0 - second, second])
    assert brier(both, np.array([0, 1, 1, 0])).mean() / 2 == pytest.approx(0.0375)
