"""The feet a size is meant for."""

from __future__ import annotations

import numpy as np
import pytest

from models.domain.anthropometry import regression
from models.domain.foot import MEASUREMENT_NAMES
from models.learning.target_feet import FEWEST_OWN, inside, own_feet, survey_feet

RANGE = {"foot_length_mm": (240, 255), "foot_circumference_mm": (220, 240)}


def mean(feet, name):
    return float(feet.weight @ feet.columns[name])


def sd(feet, name):
    return float(feet.weight @ (feet.columns[name] - mean(feet, name)) ** 2) ** 0.5


def test_feet_in_a_range_are_those_of_the_survey():
    feet = survey_feet(RANGE)
    assert inside(feet.columns, RANGE).all()
    assert feet.weight.sum() == pytest.approx(1)
    # Computed from the 909 rows of the public 2012 survey file that lie in the range (means and
    # sds of length, circumference, heel diagonal and ankle in mm, share of all rows). The survey
    # is not exactly normal, so the last figures differ.
    found = [(mean(feet, name), sd(feet, name)) for name in MEASUREMENT_NAMES]
    rows = [(248.2, 4.42), (230.4, 5.64), (313.5, 9.70), (215.5, 12.26)]
    assert found == [pytest.approx(row, rel=0.06) for row in rows]
    assert feet.survey_share == pytest.approx(0.150, abs=0.02)


def test_the_same_size_always_gets_the_same_feet():
    one, two = survey_feet(RANGE), survey_feet(dict(RANGE))
    assert all((one.columns[name] == two.columns[name]).all() for name in MEASUREMENT_NAMES)


def test_everybody_is_in_a_range_without_ends():
    wide = {"foot_length_mm": (60, 400), "foot_circumference_mm": (60, 400)}
    feet = survey_feet(wide)
    assert feet.survey_share == pytest.approx(1)
    # Gordon et al. 2014, NATICK/TR-15/007: women 246.293 and men 271.178, pooled by their counts.
    assert mean(feet, "foot_length_mm") == pytest.approx(263.03, abs=0.1)


def test_a_range_far_below_the_survey_still_has_feet():
    small = {"foot_length_mm": (120, 135), "foot_circumference_mm": (120, 135)}
    feet = survey_feet(small)
    assert inside(feet.columns, small).all()
    assert np.isfinite(feet.weight).all()
    assert feet.survey_share < 1e-12


def test_own_feet_weigh_by_person_and_their_gaps_keep_the_spread():
    n = 4 * FEWEST_OWN
    taken = survey_feet({**RANGE, "foot_length_mm": (247, 248)}).columns
    columns = {name: np.resize(taken[name], n) for name in MEASUREMENT_NAMES}
    columns["heel_diagonal_mm"] = np.full(n, np.nan)
    columns["ankle_circumference_mm"] = np.full(n, np.nan)
    member = np.concatenate([np.zeros(n // 2), np.arange(1, n // 2 + 1)])
    feet = own_feet(columns, member, 0.1)
    assert feet.people == n // 2 + 1
    assert feet.weight[: n // 2].sum() == pytest.approx(1 / feet.people)
    found = regression("heel_diagonal_mm", frozenset(MEASUREMENT_NAMES[:2]))
    residual = feet.columns["heel_diagonal_mm"] - found.predict(feet.columns)
    assert np.std(residual) == pytest.approx(found.sd, rel=0.05)
