"""Chances over many feet are those that are answered one by one."""

from __future__ import annotations

import numpy as np
import pytest

from models.learning.calibration import calibrate, geometry_alone
from models.learning.outcomes import drawn, shares
from models.learning.question import Question
from models.learning.suggest import suggest


@pytest.fixture(scope="module")
def learned(worlds_):
    draw = np.random.default_rng(3)
    truth = worlds_.truth.drawn(draw, reporter_sd=0.5)
    return calibrate(worlds_.evidence(draw, truth, 300))


@pytest.mark.parametrize("reports", [0, 300])
def test_each_foot_has_the_chances_that_a_suggestion_states(learned, five_sizes, reports):
    calibration = learned if reports else geometry_alone()
    size = five_sizes[2]
    found = shares(calibration.figures, size.terms, size.steps_cm(size.policy.plain_rounds))
    total = found.too_shallow + found.just_right + found.too_deep
    np.testing.assert_allclose(total, 1)
    for row in range(0, 256, 37):
        foot = {name: float(values[row]) for name, values in size.feet.columns.items()}
        answer = suggest(calibration, Question(foot, size.yarn_weight, size.gauge, size.policy))
        stated = [candidate.chance_just_right for candidate in answer.candidates]
        np.testing.assert_allclose(found.just_right[row], stated, atol=1e-12)


def test_draws_average_to_the_chances(learned, five_sizes):
    size = five_sizes[1]
    steps = size.steps_cm(size.policy.plain_rounds)
    found = size.feet.weight @ shares(learned.figures, size.terms, steps).just_right
    sample = drawn(learned.posterior, 2000)
    still = type(sample)(sample.coefficients, sample.limits, 0 * sample.misfit, sample.noise_sd)
    averaged = still.just_right(size.terms, size.feet.weight, steps).mean(axis=0)
    # One draws the widths exactly, the other takes their effect as linear.
    np.testing.assert_allclose(averaged, found, atol=0.02)


def test_more_plain_rounds_move_every_depth_alike(five_sizes):
    size = five_sizes[0]
    moved = size.steps_cm(size.policy.plain_rounds + 2) - size.steps_cm(size.policy.plain_rounds)
    np.testing.assert_allclose(moved, 2 * size.gauge.round_mm / 10)
    assert size.depth_mm(5, 4) - size.depth_mm(3, 4) == pytest.approx(2 * size.gauge.round_mm)
