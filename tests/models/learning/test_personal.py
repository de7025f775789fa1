"""The personal answer: the offset against the regression's own, and against a limit with a law."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.learning import estimator
from models.learning.calibration import geometry_alone
from models.learning.design import design
from models.learning.estimator import SCORES, row_noise_sd
from models.learning.evidence import Evidence
from models.learning.personal import own_offset, personal_answer
from models.learning.question import Question
from models.learning.suggest import suggest
from models.learning.terms import COEFFICIENT_NAMES, PRIOR_MEANS

P = len(COEFFICIENT_NAMES)
QUESTION = Question(
    {"foot_length_mm": 252, "foot_circumference_mm": 236, "heel_diagonal_mm": 318},
    1,
    Gauge(30, 42),
    Policy(64, 16, 4),
)


def some(evidence: Evidence, rows: np.ndarray, **changed: np.ndarray) -> Evidence:
    """Return some rows, as if one person had reported them."""
    columns = {name: values[rows] for name, values in evidence.columns.items()}
    return Evidence(columns | changed, np.zeros(len(columns["fit_score"]), dtype=np.int64))


@pytest.fixture(scope="module")
def pool(worlds_) -> Evidence:
    draw = np.random.default_rng(4)
    truth = worlds_.truth.drawn(draw, reporter_sd=0.8, share_without_diagonal=0.3)
    return worlds_.evidence(draw, truth, 240)


@pytest.fixture(scope="module")
def fitted(pool):
    """Return the regression on the pool, searched to the end, and the posterior that it gives."""
    socks = design(pool.columns)
    model = estimator.regression().set_params(
        tol=1e-9, max_iter=2000, stray_share=0.0, average_offset_sd=False
    )
    model.fit(
        socks.terms[:, 1:],
        pool.score.astype(int),
        groups=pool.reporter,
        noise_sd=row_noise_sd(socks.ideal_sd),
    )
    found = model.posterior_
    posterior = replace(
        geometry_alone().posterior,
        mean=found.mean,
        covariance=found.covariance,
        offset_sd=found.offset_sd,
        contamination=model.contamination_,
    )
    return model, posterior


def test_it_is_the_offset_that_the_regression_finds_for_that_reporter(pool, fitted) -> None:
    model, posterior = fitted
    assert len(model.reporters_) >= 15
    for at, reporter in enumerate(model.reporters_):
        own = own_offset(posterior, some(pool, pool.reporter == reporter))
        # Both stop within their tolerances (1e-10 and 1e-9) of the same mode; the regression's is
        # that of its last pass, whose parameters moved by less than 1e-9.
        assert own.mean == pytest.approx(model.offsets_[at], abs=1e-6)
        assert own.variance == pytest.approx(model.offset_variances_[at], rel=1e-6)


def test_the_chance_is_the_regression_s_own_for_that_reporter(pool, fitted, worlds_) -> None:
    model, posterior = fitted
    belief = replace(geometry_alone(), posterior=posterior)
    for reporter in model.reporters_[:8]:
        own = some(pool, pool.reporter == reporter)
        found = personal_answer(belief, QUESTION, own)
        slow = found.best.slow_decrease_rounds
        terms = worlds_.matrix(worlds_.columns_of(QUESTION, slow))
        told = model.predict_proba(terms[:, 1:], groups=np.array([reporter]))[0]
        assert found.best.chance_just_right == pytest.approx(told[2], abs=1e-6)
        assert found.reports == own.reports


@pytest.mark.parametrize("reports", [1, 5, 60])
def test_where_a_score_tells_the_latent_fit_exactly_it_is_the_conjugate_mean(
    pool, reports: int
) -> None:
    # "Just right" of next to no width is a measurement of the latent fit, 0, with Gaussian noise:
    # precisions add, and the mean is weighted by them (the conjugate normal, any textbook).
    mean = np.concatenate([PRIOR_MEANS[:P] + 0.1, PRIOR_MEANS[P:]])
    mean[P + 1] = np.log(1e-4)
    posterior = replace(
        geometry_alone().posterior, mean=mean, contamination=0.0, habit_variance=0.2
    )
    rows = np.arange(reports)
    own = some(pool, rows, fit_score=np.zeros(reports))
    socks = design(own.columns)
    precision = 1 / row_noise_sd(socks.ideal_sd) ** 2
    total = precision.sum() + 1 / (posterior.offset_sd**2 + 0.2)
    found = own_offset(posterior, own)
    expected = precision @ -(socks.terms @ mean[:P]) / total
    assert found.mean == pytest.approx(expected, abs=1e-5)
    assert found.variance == pytest.approx(1 / total, rel=1e-5)


def test_one_who_calls_deep_heels_just_right_is_given_a_deeper_one(pool) -> None:
    belief = geometry_alone()
    deeper = pool.columns["plain_rounds"][:12] + 5
    own = some(pool, np.arange(12), plain_rounds=deeper, fit_score=np.zeros(12))
    answers = {
        score: personal_answer(
            belief, QUESTION, some(own, np.arange(12), fit_score=np.full(12, score))
        )
        for score in map(float, SCORES)
    }
    depths = [answers[score].best.depth_mm for score in sorted(answers)]
    assert depths == sorted(depths, reverse=True)
    assert answers[-1.0].best.depth_mm > suggest(belief, QUESTION).best.depth_mm
    assert answers[2.0].best.depth_mm < suggest(belief, QUESTION).best.depth_mm


def test_many_reports_leave_little_but_one_sock_s_own_noise(pool) -> None:
    sure, unsure = (
        personal_answer(geometry_alone(), QUESTION, some(pool, np.arange(n))) for n in (200, 1)
    )
    population = suggest(geometry_alone(), QUESTION).best
    assert sure.best.chance_just_right > unsure.best.chance_just_right
    assert unsure.best.chance_just_right > population.chance_just_right - 0.05


def test_one_gross_error_moves_less_than_it_would_if_all_scores_were_meant(pool) -> None:
    scores = np.zeros(8)
    scores[0] = 2.0
    deep = pool.columns["plain_rounds"][:8] * 0
    own = some(pool, np.arange(8), plain_rounds=deep, fit_score=scores)
    posterior = geometry_alone().posterior
    meant = own_offset(replace(posterior, contamination=0.0), own).mean
    doubted = own_offset(replace(posterior, contamination=0.1), own).mean
    without = own_offset(posterior, some(own, np.arange(1, 8))).mean
    assert abs(doubted - without) < abs(meant - without)


def test_without_reports_there_is_no_personal_answer(pool) -> None:
    assert personal_answer(geometry_alone(), QUESTION, some(pool, np.arange(0))) is None
