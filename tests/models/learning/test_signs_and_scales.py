"""Signs and scales of what is learned, from worlds that no function of the product draws.

The worlds of the other tests use the product's own columns, so a slip there moves both sides. Here
depth and ideal are worked out from numbers alone: the heel arithmetic of the project's reference,
section C, and a heel diagonal that is 10 % larger than the fabric around it (common practice, no
source).
"""

from __future__ import annotations

from math import exp, sqrt

import numpy as np
import pytest

from models.learning.estimator import OFFSET_LOG_SPREAD, OFFSET_SD, learn, prior, row_noise_sd
from models.learning.evidence import COLUMNS, Evidence
from models.learning.terms import EXCESS, SLOPE, TERM_NAMES

LIMITS = (-1.8, -0.85, 0.85, 1.8)
SLOPE_PER_CM = 1.2
STITCHES, ROUNDS, HEEL, CLOSING = 30.0, 40.0, 64.0, 16.0


def reports(offsets: list[float], each: int, seed: int = 7, sign: float = 1.0) -> Evidence:
    """Return socks of people who score higher by their offsets, deeper heels higher by `sign`."""
    draw = np.random.default_rng(seed)
    number = len(offsets) * each
    who = np.repeat(np.arange(len(offsets)), each)
    diagonal = draw.uniform(290, 330, number)
    slow = draw.integers(1, 9, number)
    medium = np.minimum(4, 12 - slow)
    fast = 12 - slow - medium
    rounds = 3 + 4 * slow + 2 * medium + fast
    depth_cm = rounds * 100 / ROUNDS / 10
    across_cm = (HEEL + CLOSING) / 2 * 10 / STITCHES
    ideal_cm = (diagonal / 10 * 0.9 - across_cm) / 2
    latent = sign * SLOPE_PER_CM * (depth_cm - ideal_cm) + np.array(offsets)[who]
    score = np.searchsorted(LIMITS, latent + draw.normal(0, 1, number)) - 2.0
    columns = {
        "foot_length_mm": np.full(number, 250.0),
        "foot_circumference_mm": np.full(number, 232.0),
        "heel_diagonal_mm": diagonal,
        "ankle_circumference_mm": np.full(number, np.nan),
        "yarn_weight": np.full(number, 1.0),
        "stitches_per_10cm": np.full(number, STITCHES),
        "rounds_per_10cm": np.full(number, ROUNDS),
        "heel_stitches": np.full(number, HEEL),
        "decreases_per_round": np.full(number, 4.0),
        "plain_rounds": np.full(number, 3.0),
        "slow_decrease_rounds": slow * 1.0,
        "medium_decrease_rounds": medium * 1.0,
        "fast_decrease_rounds": fast * 1.0,
        "fit_score": score,
    }
    return Evidence.of({name: columns[name] for name in COLUMNS}, who.astype(np.int64))


def test_the_slope_of_a_world_is_found_in_latent_units_per_centimetre() -> None:
    found = learn(reports([0.0] * 60, 10)).posterior
    at = TERM_NAMES.index(EXCESS)
    assert found.mean[at] == pytest.approx(SLOPE_PER_CM, abs=4 * sqrt(found.covariance[at, at]))
    assert abs(found.mean[0]) < 0.35, "just right is where the geometry has it"


def test_who_scores_higher_has_a_higher_offset_and_who_scores_alike_has_none() -> None:
    told = [-1.5, 0.0, 1.5] * 12
    evidence = reports(told, 12)
    found = learn(evidence)
    offsets = found.offsets.offset * found.posterior.offset_sd
    mean = [evidence.score[evidence.reporter == one].mean() for one in found.offsets.reporter]
    assert np.corrcoef(offsets, mean)[0, 1] > 0.9
    lowest, _, highest = np.split(np.sort(offsets), 3)
    assert (np.median(lowest), np.median(highest)) == pytest.approx((-1.5, 1.5), abs=0.8)
    assert found.posterior.offset_sd == pytest.approx(np.std(told), rel=0.3)
    alike = learn(reports([0.0] * 36, 12)).posterior.offset_sd
    assert alike < 0.5 * found.posterior.offset_sd


def test_a_world_the_wrong_way_round_pulls_the_slope_down() -> None:
    at = TERM_NAMES.index(EXCESS)
    flipped = learn(reports([0.0] * 30, 10, sign=-1.0)).posterior
    assert flipped.mean[at] < 0.3 * prior().mean[at]


def test_an_estimated_diagonal_makes_a_sock_noisier_by_what_it_moves_the_score() -> None:
    assert row_noise_sd(0.0) == 1.0
    draw = np.random.default_rng(1).normal(0, 1, (2, 400_000))
    moved = draw[0] + SLOPE * 0.4 * draw[1]  # an ideal depth that is off by 4 mm
    assert float(row_noise_sd(0.4)) == pytest.approx(float(np.std(moved)), rel=0.01)


def test_before_any_report_offsets_have_the_variance_of_a_log_normal() -> None:
    draw = np.random.default_rng(2).normal(0, OFFSET_LOG_SPREAD, 400_000)
    expected = float(np.mean((OFFSET_SD * np.exp(draw)) ** 2))
    assert prior().offset_sd ** 2 == pytest.approx(expected, rel=0.01)
    assert expected == pytest.approx(OFFSET_SD**2 * exp(2 * OFFSET_LOG_SPREAD**2), rel=0.01)
