"""Figures: 2012 US Army Anthropometric Survey, Gordon et al. 2014, NATICK/TR-15/007.

All literals were computed from its public files (1,986 women, 4,082 men).
"""

from itertools import combinations
from math import sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.domain.anthropometry import Estimate, estimate, pooled, regression
from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS, SURVEY_COUNTS

LENGTH, AROUND, HEEL, ANKLE = MEASUREMENT_NAMES
SUBSETS = [frozenset(c) for n in range(5) for c in combinations(MEASUREMENT_NAMES, n)]


def survey_like_feet(count, seed):
    """Return feet drawn from the registry's women and men, as rows in the registry's order."""
    rng = np.random.default_rng(seed)
    drawn = []
    for sex, people in SURVEY_COUNTS.items():
        figures = [getattr(measurement, sex) for measurement in MEASUREMENTS]
        lower = np.eye(len(figures))
        for row, one in enumerate(figures):
            lower[row, :row] = one.correlations
        sds = np.array([one.sd for one in figures])
        covariance = (np.tril(lower) + np.tril(lower, -1).T) * np.outer(sds, sds)
        size = round(count * people / sum(SURVEY_COUNTS.values()))
        drawn.append(rng.multivariate_normal([one.mean for one in figures], covariance, size))
    return np.vstack(drawn)


FEET = survey_like_feet(20_000, seed=2012)


@pytest.mark.parametrize(
    ("sex", "mean_ratio", "sd_ratio"),
    [("women", 1.3615, 0.0496), ("men", 1.3640, 0.0486)],
)
def test_the_heel_diagonal_is_1_36_times_the_circumference(sex, mean_ratio, sd_ratio):
    # Mean and sd of the ratio, person by person, computed from the survey's public files; here
    # from the registry by the second-order expansion of a ratio of two normal variables.
    around, heel = getattr(MEASUREMENTS[1], sex), getattr(MEASUREMENTS[2], sex)
    x, y, r = around.sd / around.mean, heel.sd / heel.mean, heel.correlations[1]
    at_means = heel.mean / around.mean
    assert at_means * (1 + x * x - r * x * y) == pytest.approx(mean_ratio, abs=0.0002)
    assert at_means * sqrt(x * x + y * y - 2 * r * x * y) == pytest.approx(sd_ratio, abs=0.0003)


def test_feet_drawn_from_the_registry_have_the_ratio_too():
    # 1.3615 women and 1.3640 men, together 1.3632.
    assert np.mean(FEET[:, 2] / FEET[:, 1]) == pytest.approx(1.3632, abs=0.001)


def test_a_circumference_of_0_95_times_the_length_overstates_the_survey_by_6_mm():
    # Computed from the public files: 5.9 mm women, 5.6 mm men.
    women, men = MEASUREMENTS[0].women.mean, MEASUREMENTS[0].men.mean
    assert 0.95 * women - MEASUREMENTS[1].women.mean == pytest.approx(5.9, abs=0.05)
    assert 0.95 * men - MEASUREMENTS[1].men.mean == pytest.approx(5.6, abs=0.05)


def test_the_heel_diagonal_follows_from_length_and_circumference():
    # Least squares on women and men together: 3.895 + 0.7202 L + 0.5704 C, residual sd 8.2 mm.
    found = regression(HEEL, frozenset({LENGTH, AROUND}))
    assert found.intercept == pytest.approx(3.895, abs=0.02)
    assert found.slopes == pytest.approx({LENGTH: 0.7202, AROUND: 0.5704}, abs=0.0002)
    assert found.sd == pytest.approx(8.2, abs=0.05)


def test_the_ankle_sharpens_the_heel_diagonal():
    # Least squares: -12.226 + 0.6979 L + 0.3868 C + 0.2971 ankle, residual sd 7.5 mm.
    found = regression(HEEL, frozenset({LENGTH, AROUND, ANKLE}))
    assert found.intercept == pytest.approx(-12.226, abs=0.02)
    expected = {LENGTH: 0.6979, AROUND: 0.3868, ANKLE: 0.2971}
    assert found.slopes == pytest.approx(expected, abs=0.0002)
    assert found.sd == pytest.approx(7.5, abs=0.05)


def test_a_foot_of_246_by_228_has_a_heel_diagonal_of_311_mm():
    # By hand: 3.895 + 0.7202 * 246 + 0.5704 * 228 = 311.1.
    guess = estimate(HEEL, {LENGTH: 246, AROUND: 228})
    assert guess.value == pytest.approx(311.1, abs=0.1)
    assert not guess.measured


def test_what_was_measured_is_not_estimated():
    assert estimate(HEEL, {LENGTH: 246, AROUND: 228, HEEL: 330}) == Estimate(330, 0.0)
    assert estimate(HEEL, {HEEL: 330}).measured


def test_with_nothing_known_the_estimate_is_the_mean_of_the_survey():
    guess = estimate(LENGTH, {})
    # (246.293 * 1986 + 271.178 * 4082) / 6068 by hand.
    assert guess.value == pytest.approx(263.03, abs=0.01)
    assert guess.sd == pytest.approx(sqrt(pooled()[1][LENGTH][LENGTH]))


@pytest.mark.parametrize("given_names", SUBSETS, ids=lambda names: "+".join(sorted(names)) or "-")
def test_one_more_measurement_always_narrows_the_estimate(given_names):
    for name in set(MEASUREMENT_NAMES) - given_names:
        for more in set(MEASUREMENT_NAMES) - given_names - {name}:
            assert regression(name, given_names | {more}).sd < regression(name, given_names).sd


@pytest.mark.parametrize("given_names", SUBSETS[:-1], ids=lambda s: "+".join(sorted(s)) or "-")
def test_the_stated_sd_is_the_error_made_on_survey_like_feet(given_names):
    columns = dict(zip(MEASUREMENT_NAMES, FEET.T, strict=True))
    for name in set(MEASUREMENT_NAMES) - given_names:
        found = regression(name, given_names)
        error = columns[name] - found.predict(columns)
        assert np.mean(error) == pytest.approx(0, abs=0.6)
        assert np.std(error) == pytest.approx(found.sd, rel=0.02)


@given(st.sampled_from(SUBSETS[:-1]), st.integers(0, len(FEET) - 1), st.data())
@settings(deadline=None, max_examples=300)
def test_an_estimate_from_any_measurements_of_an_adult_is_a_possible_foot(names, row, data):
    adult = dict(zip(MEASUREMENT_NAMES, map(float, FEET[row]), strict=True))
    name = data.draw(st.sampled_from(sorted(set(MEASUREMENT_NAMES) - names)))
    guess = estimate(name, {other: adult[other] for other in names})
    measurement = MEASUREMENTS[MEASUREMENT_NAMES.index(name)]
    assert measurement.fault(guess.value) is None
    assert measurement.women.mean - 5 * measurement.women.sd < guess.value
    assert guess.value < measurement.men.mean + 5 * measurement.men.sd
    assert abs(guess.value - adult[name]) < 6 * guess.sd


@given(st.floats(120, 330), st.floats(120, 330))
@settings(deadline=None)
def test_a_longer_or_fuller_foot_has_a_larger_heel_diagonal(length, around):
    here = estimate(HEEL, {LENGTH: length, AROUND: around}).value
    assert estimate(HEEL, {LENGTH: length + 5, AROUND: around}).value > here
    assert estimate(HEEL, {LENGTH: length, AROUND: around + 5}).value > here


def test_a_measurement_never_predicts_itself():
    assert HEEL not in regression(HEEL, frozenset(MEASUREMENT_NAMES)).slopes
