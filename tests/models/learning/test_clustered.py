"""Reporter-clustered standard errors."""

from __future__ import annotations

import numpy as np
import pytest

from models.learning.clustered import weighted_mean


def test_without_clusters_it_is_the_textbook_standard_error() -> None:
    values = np.random.default_rng(1).normal(size=50)
    found = weighted_mean(values, np.ones(50))
    assert found.value == pytest.approx(values.mean())
    assert found.standard_error(np.arange(50)) == pytest.approx(values.std(ddof=1) / 50**0.5)


def test_copies_of_a_report_by_one_reporter_add_nothing() -> None:
    values, who = np.random.default_rng(2).normal(size=30), np.arange(30)
    once = weighted_mean(values, np.ones(30)).standard_error(who)
    often = weighted_mean(np.repeat(values, 7), np.ones(210)).standard_error(np.repeat(who, 7))
    assert often == pytest.approx(once)


def test_the_error_of_a_paired_difference_is_that_of_the_differences() -> None:
    one, two = np.random.default_rng(3).normal(size=(2, 40))
    who, weight = np.repeat(np.arange(10), 4), np.linspace(0.5, 1, 40)
    gap = weighted_mean(one, weight) - weighted_mean(two, weight)
    same = weighted_mean(one - two, weight)
    assert gap.value == pytest.approx(same.value)
    assert gap.standard_error(who) == pytest.approx(same.standard_error(who))


def test_one_person_leaves_no_finite_error() -> None:
    assert weighted_mean(np.arange(4.0), np.ones(4)).standard_error(np.zeros(4, int)) == np.inf


def test_two_standard_errors_hold_the_truth_as_often_as_they_should() -> None:
    draw = np.random.default_rng(4)
    who = np.repeat(np.arange(60), 5)
    held = 0
    for _ in range(400):
        found = weighted_mean(draw.normal(size=60)[who] + draw.normal(size=300), np.ones(300))
        held += abs(found.value) < 2 * found.standard_error(who)
    assert held / 400 == pytest.approx(0.95, abs=0.03)
