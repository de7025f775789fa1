"""The test-knit plan, and its prices against brute force."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import spearmanr

from models.domain.policy import Policy
from models.learning.calibration import calibrate, geometry_alone
from models.learning.defaults import defaults
from models.learning.estimator import LINK
from models.learning.optimal import expected_information, loss_reduction, variances
from models.learning.ordinal.likelihood import Noise
from models.learning.ordinal.links import LINKS
from models.learning.ordinal.thresholds import thresholds_from_gaps
from models.learning.outcomes import SLOPE
from models.learning.plan import (
    DELIBERATE,
    candidates,
    loss_vectors,
    plan,
    representative,
    slope_is_learned,
)
from models.learning.target_feet import survey_feet
from models.learning.terms import COEFFICIENT_NAMES

P = len(COEFFICIENT_NAMES)


@pytest.fixture(scope="module")
def learned(worlds_):
    """Return a calibration whose posterior is tight enough for a hill to be a parabola."""
    draw = np.random.default_rng(3)
    truth = worlds_.truth({"excess_depth_cm": 1.35}, reporter_sd=0.5)
    return calibrate(worlds_.evidence(draw, truth, 60))


class BruteForce:
    """What one report is worth to one size's default, without any approximation but sampling.

    Terms are drawn, a report weighs them by its likelihood, and the best depth is looked up on a
    grid that is finer than rounds.
    """

    def __init__(self, posterior, size, default, draws=6000):
        root = np.linalg.cholesky(posterior.covariance[:P, :P] + 1e-10 * np.eye(P))
        normal = np.random.default_rng(1).standard_normal((draws // 2, P))
        both = np.concatenate([normal, -normal]) @ root.T
        self.terms = posterior.mean[:P] + both
        self.limits = thresholds_from_gaps(posterior.mean[P:])
        self.sd = posterior.noise_variance**0.5
        self.contamination = posterior.contamination
        slow = default.best.slow_decrease_rounds
        here = size.steps_cm(size.policy.plain_rounds)[slow]
        self.useful = self._useful(size, here + np.linspace(-1.5, 1.5, 61))

    def _useful(self, size, steps):
        """Return the mean chance of just right (draws, depths)."""
        weight = size.feet.weight
        kept = np.random.default_rng(2).choice(len(weight), 50, replace=False)
        weight = weight[kept] / weight[kept].sum()
        level = size.terms[kept] @ self.terms.T
        found = np.zeros((len(self.terms), len(steps)))
        for share, own in zip(weight, level, strict=True):
            latent = own[:, None] + self.terms[:, SLOPE, None] * steps
            low, high = self.limits[1:3]
            found += share * (ndtr((high - latent) / self.sd) - ndtr((low - latent) / self.sd))
        return found

    def loss(self):
        """Return the chance that is lost by not knowing the terms."""
        return self.useful.max(axis=1).mean() - self.useful.mean(axis=0).max()

    def gain(self, row):
        """Return what a report of a sock with these terms is expected to add."""
        below = ndtr((self.limits[:, None] - self.terms @ row) / self.sd)
        edges = np.vstack([np.zeros(len(self.terms)), below, np.ones(len(self.terms))])
        chance = (1 - self.contamination) * np.diff(edges, axis=0) + self.contamination / 5
        after = (chance @ self.useful / len(self.terms)).max(axis=1).sum()
        return after - self.useful.mean(axis=0).max()


def told(posterior, found):
    limits = thresholds_from_gaps(posterior.mean[P:])
    sd = np.full(len(found.rows), posterior.noise_variance**0.5)
    noise = Noise(LINKS[LINK], posterior.contamination, sd)
    spread = variances(posterior.covariance[:P, :P], found.rows)
    return expected_information(noise, limits, found.position, spread)


def test_the_loss_is_what_brute_force_says(learned, five_sizes):
    found = defaults(learned, five_sizes)
    vectors = loss_vectors(learned.posterior, found)
    priced = 0.5 * variances(learned.posterior.covariance[:P, :P], vectors)
    for place in (0, 2, 4):
        brute = BruteForce(learned.posterior, five_sizes[place], found.sizes[place])
        assert priced[place] == pytest.approx(brute.loss(), rel=0.3)


def test_socks_are_priced_as_brute_force_prices_them(learned, five_sizes):
    found = defaults(learned, five_sizes)
    posterior = learned.posterior
    vectors = loss_vectors(posterior, found)[[2]]
    socks = candidates(posterior, five_sizes)
    rows = socks.rows[:: len(socks.rows) // 24]
    some = replace(socks, rows=rows, position=socks.position[:: len(socks.rows) // 24])
    said = loss_reduction(
        posterior.covariance[:P, :P], vectors.T @ vectors, rows, told(posterior, some)
    )
    brute = BruteForce(posterior, five_sizes[2], found.sizes[2])
    true = np.array([brute.gain(row) for row in rows])
    assert spearmanr(said, true).statistic > 0.85
    telling = true > np.median(true)
    np.testing.assert_allclose(said[telling], true[telling], rtol=0.4)


def test_socks_are_in_the_order_of_what_they_teach_and_add_up(learned, five_sizes):
    planned = plan(defaults(learned, five_sizes), 12)
    ordinary = [one.settled for one in planned if one.sock.deliberate is None]
    assert len(planned) == 12
    assert ordinary == sorted(ordinary, reverse=True)
    assert 0 < sum(one.settled for one in planned) < 1
    assert all(0 <= share < 1 for one in planned for share in one.of_size.values())


def test_only_deliberate_socks_may_be_unwearable(five_sizes):
    planned = plan(defaults(geometry_alone(), five_sizes), 10)
    assert [one.sock.deliberate for one in planned[:2]] == ["shallow", "deep"]
    assert all(one.sock.deliberate is None for one in planned[2:])
    shallow, deep, *others = planned
    assert max(shallow.wearable, deep.wearable) < min(one.wearable for one in others)


def test_few_socks_are_not_spent_on_heels_that_nobody_wears(five_sizes):
    planned = plan(defaults(geometry_alone(), five_sizes), DELIBERATE - 1)
    assert all(one.sock.deliberate is None for one in planned)


def test_a_slope_counts_as_learned_once_reports_speak_of_it(worlds_):
    truth = worlds_.truth({"excess_depth_cm": 1.35})
    few, many = (calibrate(worlds_.evidence(np.random.default_rng(1), truth, n)) for n in (3, 400))
    assert not slope_is_learned(geometry_alone())
    assert not slope_is_learned(few)
    assert slope_is_learned(many)


def test_more_sizes_than_one_are_asked_for(five_sizes):
    planned = plan(defaults(geometry_alone(), five_sizes), 12)
    assert len({one.sock.size.label for one in planned}) >= 3


def test_typical_feet_run_from_small_to_large_and_keep_the_mean(five_sizes):
    feet = five_sizes[2].feet
    few = representative(feet)
    assert len(few["heel_diagonal_mm"]) == 5
    assert (np.diff(few["heel_diagonal_mm"]) > 0).all()
    for name, values in few.items():
        assert values.mean() == pytest.approx(float(feet.weight @ feet.columns[name]), rel=0.01)


def test_the_same_design_gets_the_same_plan(five_sizes):
    one, two = (plan(defaults(geometry_alone(), five_sizes), 6) for _ in range(2))
    assert [p.sock.slow_decrease_rounds for p in one] == [p.sock.slow_decrease_rounds for p in two]
    assert [p.settled for p in one] == [p.settled for p in two]


def test_a_size_that_no_depth_suits_learns_nothing_and_takes_part(size_heel, five_sizes):
    feet = survey_feet({"foot_length_mm": (60, 61), "foot_circumference_mm": (60, 61)})
    hopeless = size_heel(0, feet=feet, policy=Policy(400, 200, 0, 200))
    planned = plan(defaults(geometry_alone(), [hopeless, five_sizes[2]]), 5)
    assert {one.sock.size.label for one in planned[2:]} == {five_sizes[2].label}
    assert all(np.isfinite(one.settled) for one in planned)
