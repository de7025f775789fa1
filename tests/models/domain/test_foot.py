"""The registry of measurements, and what follows from one more entry."""

import numpy as np
import pytest

from models.domain import anthropometry, foot, plausibility
from models.domain.anthropometry import estimate, pooled, regression
from models.domain.errors import Invalid
from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS, SURVEY_COUNTS, Figures, Measurement

# 2012 US Army Anthropometric Survey, Gordon et al. 2014, NATICK/TR-15/007, computed from its
# public files: heel breadth, with its correlations in the order of the registry.
HEEL_BREADTH = Measurement(
    "heel_breadth_mm",
    30,
    130,
    "mm",
    "Widest behind the ankle bones.",
    required=False,
    women=Figures(67.163, 5.173, (0.51380, 0.55760, 0.64418, 0.39415)),
    men=Figures(72.506, 5.474, (0.48338, 0.50683, 0.62793, 0.46218)),
)


def matrix(sex):
    """Return the correlation matrix of one sex that the registry implies."""
    lower = np.eye(len(MEASUREMENTS))
    for row, measurement in enumerate(MEASUREMENTS):
        lower[row, :row] = getattr(measurement, sex).correlations
    return np.tril(lower) + np.tril(lower, -1).T


@pytest.fixture
def heel_breadth(monkeypatch):
    """Add one entry to the registry of measurements, wherever it is read."""
    measurements = (*MEASUREMENTS, HEEL_BREADTH)
    names = (*MEASUREMENT_NAMES, HEEL_BREADTH.name)
    for module in (foot, anthropometry, plausibility):
        for attribute, value in (("MEASUREMENTS", measurements), ("MEASUREMENT_NAMES", names)):
            if hasattr(module, attribute):
                monkeypatch.setattr(module, attribute, value)
    caches = (pooled, regression)
    for cached in caches:
        cached.cache_clear()
    yield HEEL_BREADTH
    for cached in caches:
        cached.cache_clear()


def test_a_foot_is_its_length_and_circumference_and_two_optional_measurements():
    assert [(m.name, m.required) for m in MEASUREMENTS] == [
        ("foot_length_mm", True),
        ("foot_circumference_mm", True),
        ("heel_diagonal_mm", False),
        ("ankle_circumference_mm", False),
    ]


@pytest.mark.parametrize("sex", sorted(SURVEY_COUNTS))
def test_each_measurement_has_a_correlation_with_every_earlier_one(sex):
    lengths = [len(getattr(measurement, sex).correlations) for measurement in MEASUREMENTS]
    assert lengths == list(range(len(MEASUREMENTS)))


@pytest.mark.parametrize("sex", sorted(SURVEY_COUNTS))
def test_the_correlations_of_one_sex_can_belong_together(sex):
    assert np.linalg.eigvalsh(matrix(sex)).min() > 0.05


def test_the_pooled_covariances_can_belong_together():
    _, covariances = pooled()
    grid = [[covariances[a][b] for b in MEASUREMENT_NAMES] for a in MEASUREMENT_NAMES]
    assert np.allclose(grid, np.transpose(grid))
    assert np.linalg.eigvalsh(np.array(grid)).min() > 0


@pytest.mark.parametrize("measurement", MEASUREMENTS, ids=lambda measurement: measurement.name)
def test_every_adult_within_six_sds_is_inside_the_limits(measurement):
    for figures in (measurement.women, measurement.men):
        assert measurement.fault(figures.mean - 6 * figures.sd) is None
        assert measurement.fault(figures.mean + 6 * figures.sd) is None


@pytest.mark.parametrize("measurement", MEASUREMENTS, ids=lambda measurement: measurement.name)
def test_a_measurement_is_a_length_in_mm_and_its_name_says_so(measurement):
    assert measurement.unit == "mm"
    assert measurement.name.endswith("_mm")
    assert len(measurement.text) > 20


def test_one_more_entry_is_estimated_from_the_others(heel_breadth):
    adult = {"foot_length_mm": 263.0, "foot_circumference_mm": 244.2}
    guess = estimate(heel_breadth.name, adult)
    # Means weighted by 1,986 women and 4,082 men: (67.163 * 1986 + 72.506 * 4082) / 6068.
    assert guess.value == pytest.approx(70.76, abs=0.1)
    assert 3 < guess.sd < 5.5


def test_one_more_entry_sharpens_the_estimate_of_the_heel_diagonal(heel_breadth):
    without = regression("heel_diagonal_mm", frozenset(MEASUREMENT_NAMES))
    with_breadth = regression(
        "heel_diagonal_mm", frozenset({*MEASUREMENT_NAMES, heel_breadth.name})
    )
    assert with_breadth.sd < without.sd - 0.1
    assert with_breadth.slopes[heel_breadth.name] > 0


def test_one_more_entry_is_checked_like_the_others(heel_breadth):
    adult = {"foot_length_mm": 263.0, "foot_circumference_mm": 244.0, "heel_breadth_mm": 71.0}
    plausibility.require_plausible(adult)
    with pytest.raises(Invalid, match=r"heel_breadth_mm is 7\.1: .*would be 71 mm"):
        plausibility.require_plausible({**adult, "heel_breadth_mm": 7.1})


def test_without_the_entry_the_measurement_is_unknown():
    adult = {"foot_length_mm": 263.0, "foot_circumference_mm": 244.0, "heel_breadth_mm": 71.0}
    with pytest.raises(Invalid, match=r"heel_breadth_mm is 71\.0: measurements are foot_"):
        plausibility.require_plausible(adult)
