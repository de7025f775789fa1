"""Feet whose measurements do not belong together; all feet here are drawn, none is anybody's.

That no real foot of the survey is held is checked in `tests/models/domain/test_survey.py`.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from scipy.stats import chi2, kstest

from models.domain.errors import Invalid
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.plausibility import require_plausible
from models.learning.proportions import implausible_feet, squared_distance

DIAGONAL = "heel_diagonal_mm"


def without(columns, *names):
    return {
        name: np.full_like(values, np.nan) if name in names else values
        for name, values in columns.items()
    }


def got_past(columns) -> np.ndarray:
    """Return which feet the checks of a single foot let in."""
    feet = [
        {name: float(columns[name][row]) for name in MEASUREMENT_NAMES}
        for row in range(len(columns[DIAGONAL]))
    ]
    return np.array([not refused(foot) for foot in feet])


def refused(foot) -> bool:
    try:
        require_plausible(foot)
    except Invalid:
        return True
    return False


def test_none_of_20_000_drawn_feet_is_held_whatever_was_measured(worlds) -> None:
    feet = worlds.feet(np.random.default_rng(1), 20_000)
    for size in range(4):
        for missing in combinations(MEASUREMENT_NAMES, size):
            assert not implausible_feet(without(feet, *missing)).any(), missing


def test_a_foot_s_distance_is_chi_squared_with_one_degree_of_freedom_less(worlds) -> None:
    feet = np.column_stack(list(worlds.feet(np.random.default_rng(2), 4000).values()))
    for taken in (2, 3, 4):
        found = squared_distance(feet[:, :taken], MEASUREMENT_NAMES[:taken])
        assert kstest(found, chi2(taken - 1).cdf).pvalue > 0.01


@pytest.mark.parametrize("size", [0.55, 0.75, 1.3])
def test_small_and_large_feet_of_usual_proportions_are_not_held(worlds, size: float) -> None:
    feet = worlds.feet(np.random.default_rng(3), 2000)
    assert not implausible_feet({name: size * mm for name, mm in feet.items()}).any()


def test_tapes_laid_at_home_are_not_held(worlds) -> None:
    draw = np.random.default_rng(4)
    feet = worlds.feet(draw, 20_000)
    laid = {name: np.round((mm + draw.normal(0, 5, 20_000)) / 5) * 5 for name, mm in feet.items()}
    assert not implausible_feet(laid).any()


def test_two_measurements_in_inches_get_past_the_form_and_are_held(worlds) -> None:
    feet = worlds.feet(np.random.default_rng(5), 500)
    slipped = {**feet, **{name: feet[name] / 2.54 for name in MEASUREMENT_NAMES[:2]}}
    past = got_past(slipped)
    assert past.mean() > 0.9
    assert implausible_feet(slipped)[past].all()


@pytest.mark.parametrize(("off_mm", "power"), [(40, 0.05), (60, 0.75), (80, 0.99)])
def test_a_diagonal_of_another_foot_is_found_the_surer_the_further_it_is_off(
    worlds, off_mm: float, power: float
) -> None:
    feet = worlds.feet(np.random.default_rng(6), 2000)
    for sign in (-1, 1):
        mistaken = {**feet, DIAGONAL: feet[DIAGONAL] + sign * off_mm}
        assert implausible_feet(mistaken).mean() > power


@pytest.mark.parametrize(("ratio", "held"), [(0.55, True), (0.927, False), (1.3, True)])
def test_a_foot_of_the_two_required_measurements_is_held_by_their_ratio(ratio, held) -> None:
    """Circumference over length is .927 with sd .042 among women (ANSUR II, n = 1986).

    The first and the last are nearly nine sds from it; a chance of 1e-8 is within six.
    """
    nothing = np.array([np.nan])
    foot = dict.fromkeys(MEASUREMENT_NAMES, nothing)
    foot |= {
        "foot_length_mm": np.array([250.0]),
        "foot_circumference_mm": np.array([250 * ratio]),
    }
    assert implausible_feet(foot).tolist() == [held]
