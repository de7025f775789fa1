"""The registry's figures against the survey itself, where its file lies beside the repository.

2012 US Army Anthropometric Survey, Gordon et al. 2014, NATICK/TR-15/007, public files.
"""

import csv
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from models.domain.anthropometry import regression
from models.domain.errors import Invalid
from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS, SURVEY_COUNTS
from models.domain.plausibility import require_plausible
from models.learning.proportions import implausible_feet

REPOSITORY = Path(__file__).resolve().parents[3]
SURVEY = REPOSITORY.parent / "shared" / "data" / "foot_survey_2012.csv"
WORD = {"women": "female", "men": "male"}

pytestmark = pytest.mark.skipif(
    not SURVEY.exists(),
    reason="the survey's rows are not part of the project; put foot_survey_2012.csv into "
    "shared/data beside the repository to check the published figures against them",
)


@pytest.fixture(scope="module")
def rows():
    """Return sex and the registry's measurements of every person."""
    with SURVEY.open(newline="", encoding="utf-8") as file:
        people = list(csv.DictReader(file))
    sexes = np.array([person["sex"] for person in people])
    return sexes, np.array([[float(p[name]) for name in MEASUREMENT_NAMES] for p in people])


@pytest.mark.parametrize("sex", sorted(SURVEY_COUNTS))
def test_the_registry_states_the_means_sds_and_correlations_of_the_survey(rows, sex):
    sexes, feet = rows
    own = feet[sexes == WORD[sex]]
    assert len(own) == SURVEY_COUNTS[sex]
    correlations = np.corrcoef(own.T)
    for column, measurement in enumerate(MEASUREMENTS):
        figures = getattr(measurement, sex)
        assert figures.mean == pytest.approx(own[:, column].mean(), abs=0.0006)
        assert figures.sd == pytest.approx(own[:, column].std(ddof=1), abs=0.0006)
        assert figures.correlations == pytest.approx(correlations[column, :column], abs=0.00001)


@pytest.mark.parametrize(("sex", "ratio"), [("women", 1.3615), ("men", 1.3640)])
def test_the_ratio_of_heel_diagonal_to_circumference_is_the_survey_s(rows, sex, ratio):
    sexes, feet = rows
    own = feet[sexes == WORD[sex]]
    assert np.mean(own[:, 2] / own[:, 1]) == pytest.approx(ratio, abs=0.0001)


@pytest.mark.parametrize(
    ("given_columns", "coefficients", "sd"),
    [
        ([0, 1], [3.895, 0.7202, 0.5704], 8.2),
        ([0, 1, 3], [-12.226, 0.6979, 0.3868, 0.2971], 7.5),
    ],
)
def test_least_squares_gives_the_published_regressions(rows, given_columns, coefficients, sd):
    _, feet = rows
    found, left = least_squares(feet, 2, given_columns)
    assert found == pytest.approx(coefficients, abs=0.0006)
    assert left == pytest.approx(sd, abs=0.05)


def test_every_regression_from_the_registry_is_least_squares_on_the_survey(rows):
    _, feet = rows
    for target, name in enumerate(MEASUREMENT_NAMES):
        others = [column for column in range(len(MEASUREMENT_NAMES)) if column != target]
        for size in range(4):
            for columns in combinations(others, size):
                known = [MEASUREMENT_NAMES[column] for column in columns]
                expected, left = least_squares(feet, target, columns)
                ours = regression(name, frozenset(known))
                slopes = [ours.slopes[other] for other in known]
                assert [ours.intercept, *slopes] == pytest.approx(expected, abs=0.02)
                assert ours.sd == pytest.approx(left, abs=0.01)


def test_no_foot_of_the_survey_is_refused(rows):
    _, feet = rows
    refused = []
    for row in feet:
        foot = dict(zip(MEASUREMENT_NAMES, map(float, row), strict=True))
        try:
            require_plausible(foot)
        except Invalid as error:
            refused.append((foot, str(error)))
    assert refused == []


def test_no_foot_of_the_survey_is_held_whatever_was_measured_of_it(rows):
    _, feet = rows
    for size in range(1, 5):
        for taken in combinations(range(4), size):
            columns = {
                name: feet[:, place] if place in taken else np.full(len(feet), np.nan)
                for place, name in enumerate(MEASUREMENT_NAMES)
            }
            assert not implausible_feet(columns).any(), taken


def least_squares(feet, target, columns):
    """Return the coefficients, intercept first, and the residual sd."""
    design = np.column_stack([np.ones(len(feet)), *(feet[:, column] for column in columns)])
    found, *_ = np.linalg.lstsq(design, feet[:, target], rcond=None)
    left = feet[:, target] - design @ found
    return found, np.sqrt(left @ left / (len(feet) - design.shape[1]))
