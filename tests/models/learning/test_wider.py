"""Beginning with a wider pool: Bayes' rule, and what it brings. All groups are simulated."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import logsumexp
from scipy.stats import multivariate_normal

from models.learning.beliefs import BELIEFS, TERMS, averaged
from models.learning.calibration import Calibration, calibrate
from models.learning.design import design
from models.learning.estimator import fit, learn, prior
from models.learning.evidence import Evidence
from models.learning.factor import Factor
from models.learning.pooling import pooled
from models.learning.predictive import score_chances
from models.learning.scores import log_score
from models.learning.summary import Summary, summary_of
from models.learning.terms import EXCESS, INTERCEPT, PRIOR_MEANS, PRIOR_SDS, TERM_NAMES
from models.learning.wider import APPLIES, Wider, averaged_beside

P, SLOPE = len(TERM_NAMES), TERM_NAMES.index(EXCESS)
REPORTS = 720
"""Of about sixty reporters."""

HARM = 0.01
"""Nats a report, or share just right, that a pool of unlike groups may cost."""


def summaries(worlds, truths, draw) -> list[Summary]:
    """Return the summary of one group for each truth."""
    found = []
    for number, truth in enumerate(truths):
        made = calibrate(worlds.evidence(draw, truth, REPORTS))
        assert made.alone is not None
        found.append(summary_of(f"{number:032x}", made.reporters, made.reports, made.alone))
    return found


def on_level(worlds, truth, shift: float):
    """Return the same world for a group that scores everything higher."""
    level = truth.coefficients[INTERCEPT] + shift
    return worlds.truth({**truth.coefficients, INTERCEPT: level}, reporter_sd=truth.reporter_sd)


def loss(posterior, unseen: Evidence) -> float:
    """Return nats a report; less is better."""
    category = (unseen.score + 2).astype(int)
    return float(log_score(score_chances(posterior, unseen), category).mean())


@pytest.fixture(scope="module")
def world(worlds_):
    return worlds_.truth.drawn(np.random.default_rng(11), reporter_sd=0.5)


@pytest.fixture(scope="module")
def like(worlds_, world) -> Wider:
    """Return what four groups of one world say, each on a level of its own."""
    draw = np.random.default_rng(12)
    truths = [on_level(worlds_, world, shift) for shift in (-0.3, -0.1, 0.1, 0.3)]
    found = pooled(summaries(worlds_, truths, draw))
    assert found is not None
    return found


@pytest.fixture(scope="module")
def unlike(worlds_) -> Wider:
    """Return what four groups say, each of a world of its own."""
    draw = np.random.default_rng(13)
    truths = [worlds_.truth.drawn(draw, reporter_sd=0.5) for _ in range(4)]
    found = pooled(summaries(worlds_, truths, draw))
    assert found is not None
    return found


def test_it_agrees_with_one_model_for_each_belief_with_and_without_the_pool() -> None:
    """Twelve linear Gaussian models, each by the textbook and weighed by its evidence."""
    draw = np.random.default_rng(5)
    design = draw.normal(size=(30, P)) * 0.3
    seen = design @ PRIOR_MEANS + draw.normal(size=30)
    told = Factor(draw.uniform(0.5, 9.0, P), PRIOR_MEANS + draw.normal(size=P) * PRIOR_SDS)
    both = np.vstack([design, np.eye(P)])
    noise = np.diag(np.concatenate([np.ones(30), 1 / told.precision]))
    found, weights = [], []
    for belief in BELIEFS:
        before = np.diag(PRIOR_SDS**2)
        before[TERMS, TERMS] = belief.sds**2
        others = sum(
            other.chance
            * multivariate_normal.pdf(
                told.estimate, PRIOR_MEANS, _prior_of(other) + np.diag(1 / told.precision)
            )
            for other in BELIEFS
        )
        for chance, rows, values, errors, density in (
            (APPLIES, both, np.concatenate([seen, told.estimate]), noise, 1.0),
            (1 - APPLIES, design, seen, np.eye(30), others),
        ):
            spread = rows @ before @ rows.T + errors
            gain = before @ rows.T @ np.linalg.inv(spread)
            evidence = multivariate_normal.logpdf(values, rows @ PRIOR_MEANS, spread)
            weights.append(np.log(chance * belief.chance * density) + evidence)
            found.append(
                (PRIOR_MEANS + gain @ (values - rows @ PRIOR_MEANS), before - gain @ rows @ before)
            )
    share = np.exp(np.array(weights) - logsumexp(weights))
    mean = sum(w * m for w, (m, _) in zip(share, found, strict=True))
    covariance = sum(
        w * (c + np.outer(m - mean, m - mean)) for w, (m, c) in zip(share, found, strict=True)
    )
    after = np.linalg.inv(np.diag(PRIOR_SDS**-2.0) + design.T @ design)
    own = PRIOR_MEANS + after @ design.T @ (seen - design @ PRIOR_MEANS)
    found_mean, found_covariance = averaged_beside(Wider(told, 3, 150), own, after)
    np.testing.assert_allclose(found_mean, mean, atol=1e-9)
    np.testing.assert_allclose(found_covariance, covariance, atol=1e-9)


def _prior_of(belief) -> np.ndarray:
    variance = PRIOR_SDS**2
    variance[TERMS] = belief.sds**2
    return np.diag(variance)


def test_without_a_pool_or_with_one_that_says_nothing_all_is_as_it_was(worlds_, world) -> None:
    own = worlds_.evidence(np.random.default_rng(1), world, 40)
    silent = Wider(Factor(np.zeros(P), np.zeros(P)), 1, 50)
    alone = learn(own)
    for wider in (None, silent):
        found = learn(own, wider)
        np.testing.assert_allclose(found.posterior.mean, alone.posterior.mean, atol=1e-12)
        np.testing.assert_allclose(
            found.posterior.covariance, alone.posterior.covariance, atol=1e-12
        )
    mean, covariance = PRIOR_MEANS, np.diag(PRIOR_SDS**2)
    assert averaged_beside(None, mean, covariance)[1].tobytes() == (
        averaged(mean, covariance)[1].tobytes()
    )


def test_one_report_says_of_a_term_no_more_than_its_share_in_the_sock(worlds_, world) -> None:
    """A score in five steps tells at most what the latent fit itself would: the column squared."""
    one = worlds_.evidence(np.random.default_rng(6), world, 1)
    said = learn(one).alone.precision[3:-3]
    most = np.square(design(one.columns).columns[0])
    assert (said <= most * (1 + 1e-6) + 1e-9).all()
    assert (said[most == 0] == 0).all(), "of another yarn weight it says nothing"
    assert said.max() > 0


@pytest.mark.parametrize("seed", range(3))
def test_what_rows_said_and_then_more_rows_is_near_all_rows_at_once(worlds_, seed: int) -> None:
    """Sequential Bayes in one group: no discount for another group's, all rows of one truth."""
    draw = np.random.default_rng(seed)
    truth = worlds_.truth.drawn(draw, reporter_sd=0.5)
    first, own = (worlds_.evidence(draw, truth, n) for n in (REPORTS, 240))
    both = Evidence.of(
        {name: np.concatenate([first.columns[name], own.columns[name]]) for name in own.columns},
        np.concatenate([first.reporter, own.reporter + first.reporter.max() + 1]),
    )
    together, said = fit(both), Wider(learn(first).alone, 1, 60)
    error = np.sqrt(np.diag(together.covariance))
    away, alone = (
        np.abs(found.mean - together.mean) / error for found in (fit(own, said), fit(own))
    )
    assert away[SLOPE] < 0.4, "standard errors of the fit of all rows"
    assert away.mean() < 0.35
    assert away.mean() < 0.6 * alone.mean()
    assert away.max() < 0.7 * alone.max()


@pytest.mark.parametrize("reports", [12, 25])
def test_a_new_group_foresees_better_with_a_pool_of_like_groups(
    worlds_, world, like, reports
) -> None:
    draw = np.random.default_rng(21)
    unseen = worlds_.evidence(draw, world, 2000)
    gains = []
    for _ in range(6):
        few = worlds_.evidence(draw, world, reports)
        gains.append(loss(fit(few), unseen) - loss(fit(few, like), unseen))
    assert np.mean(gains) > 0.02
    assert min(gains) > -HARM


def test_a_pool_of_unlike_groups_does_no_harm_worth_naming(worlds_, unlike) -> None:
    draw = np.random.default_rng(31)
    gains = []
    for _ in range(8):
        other = worlds_.truth.drawn(draw, reporter_sd=0.5)
        few, unseen = worlds_.evidence(draw, other, 25), worlds_.evidence(draw, other, 1000)
        gains.append(loss(fit(few), unseen) - loss(fit(few, unlike), unseen))
    assert np.mean(gains) > -HARM


def test_without_reports_the_pool_answers_with_what_the_geometry_leaves_open(
    worlds_, world, like
) -> None:
    nothing = worlds_.evidence(np.random.default_rng(1), world, 0)
    unseen = worlds_.evidence(np.random.default_rng(22), world, 2000)
    assert fit(nothing, like).mean.tolist() == prior(like).mean.tolist()
    assert loss(fit(nothing, like), unseen) < loss(prior(), unseen)


def test_a_group_s_own_level_is_learned_from_its_own_reports(worlds_, world, like) -> None:
    """The group offset: a group that scores all socks higher keeps the pool's coefficients."""
    draw = np.random.default_rng(41)
    higher = on_level(worlds_, world, 0.6)
    own, unseen = (worlds_.evidence(draw, higher, n) for n in (150, 2000))
    found, level = fit(own, like), TERM_NAMES.index(INTERCEPT)
    assert found.mean[level] > fit(worlds_.evidence(draw, world, 150), like).mean[level] + 0.25
    assert loss(found, unseen) < loss(fit(own), unseen)


def test_the_same_rows_and_pool_give_the_same_bits(worlds_, world, like) -> None:
    own = worlds_.evidence(np.random.default_rng(8), world, 60)
    order = np.random.default_rng(9).permutation(60)
    turned = Evidence.of(
        {name: values[order] for name, values in own.columns.items()}, own.reporter[order]
    )
    one, two = fit(own, like), fit(turned, like)
    assert one.mean.tobytes() == two.mean.tobytes()
    assert one.covariance.tobytes() == two.covariance.tobytes()


def test_a_calibration_names_its_pool_and_its_fingerprint_covers_it(worlds_, world, like) -> None:
    own = worlds_.evidence(np.random.default_rng(8), world, 60)
    plain, made = calibrate(own), calibrate(own, like)
    assert plain.fingerprint == own.fingerprint() != made.fingerprint
    again = Calibration.from_json(made.to_json())
    assert like.says_the_same_as(again.wider)
    assert calibrate(own, again.wider).posterior.mean.tobytes() == made.posterior.mean.tobytes()
    assert calibrate(own, again.wider).fingerprint == made.fingerprint
    other = Wider(like.factor, like.groups + 1, like.people)
    assert calibrate(own, other).fingerprint != made.fingerprint


def test_calibrations_stored_before_there_was_a_pool_began_with_geometry(worlds_, world) -> None:
    stored = calibrate(worlds_.evidence(np.random.default_rng(8), world, 60)).to_json()
    del stored["wider"], stored["alone"]
    assert Calibration.from_json(stored).wider is None
    assert Calibration.from_json(stored).alone is None
