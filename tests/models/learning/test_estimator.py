"""The estimator: the beliefs it starts from, what it takes from reports and what it leaves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.learning import estimator
from models.learning.beliefs import averaged
from models.learning.calibration import calibrate, geometry_alone
from models.learning.design import design
from models.learning.evidence import COLUMNS, Evidence
from models.learning.habit import habits
from models.learning.ordinal.blocks import InMemory
from models.learning.socks import gathered_socks
from models.learning.suggest import suggest
from models.learning.terms import EXCESS, PRIOR_MEANS, PRIOR_SDS, TERM_NAMES
from models.learning.weights import capped_weights, reporter_weights

TRUTH = {EXCESS: 1.5, "intercept": -0.4, "yarn_weight_2": 0.35, "diagonal": 0.15}
SLOPE = TERM_NAMES.index(EXCESS)


@pytest.fixture
def evidence(worlds) -> Evidence:
    truth = worlds.truth(TRUTH, share_without_diagonal=0.3, reporter_sd=0.5)
    return worlds.evidence(np.random.default_rng(7), truth, 150)


def test_it_is_the_regression_on_excess_habit_and_columns(evidence) -> None:
    socks, weight = design(evidence.columns), capped_weights(evidence.reporter)
    by_reporter = np.argsort(evidence.reporter, kind="stable")
    weights = reporter_weights(np.unique(evidence.reporter, return_counts=True)[1])
    gathered = gathered_socks(evidence, weights)
    habit = np.empty(150)
    habit[by_reporter] = habits(InMemory((gathered,))).of_reporter[0][gathered.reporters.of_row]
    diagonal_noise = 1.4 * socks.ideal_sd
    model = estimator.regression().fit(
        np.column_stack([socks.excess, habit, socks.columns]),
        evidence.score.astype(int),
        groups=evidence.reporter,
        noise_sd=np.sqrt(1 + diagonal_noise**2),
        sample_weight=weight,
    )
    found = estimator.fit(evidence)
    mean, covariance = averaged(model.posterior_.mean, model.posterior_.covariance)
    assert found.mean.tobytes() == mean.tobytes()
    assert found.covariance.tobytes() == covariance.tobytes()
    assert found.offset_sd == model.posterior_.offset_sd


def test_without_reports_it_is_the_prior(worlds) -> None:
    nothing = worlds.evidence(np.random.default_rng(1), worlds.truth(TRUTH), 0)
    found = estimator.fit(nothing)
    assert found.mean.tolist() == estimator.prior().mean.tolist() == PRIOR_MEANS.tolist()
    assert found.covariance.tolist() == averaged(PRIOR_MEANS, np.diag(PRIOR_SDS**2))[1].tolist()


def test_a_report_that_says_next_to_nothing_leaves_the_prior_nearly_as_it_is(worlds) -> None:
    one = worlds.evidence(np.random.default_rng(1), worlds.truth(TRUTH), 1)
    columns = {**one.columns, "fit_score": np.zeros(1)}
    found, prior = estimator.fit(Evidence.of(columns, one.reporter)), estimator.prior()
    np.testing.assert_allclose(found.mean, prior.mean, atol=0.25)
    np.testing.assert_allclose(np.diag(found.covariance), np.diag(prior.covariance), rtol=0.45)
    assert found.noise_variance == pytest.approx(prior.noise_variance, rel=0.1)
    assert found.misfit_variance == pytest.approx(prior.misfit_variance, rel=0.1)
    assert found.contamination == pytest.approx(prior.contamination, abs=0.005)


@pytest.mark.parametrize("seed", range(10))
def test_one_report_within_a_point_of_the_geometry_moves_a_suggestion_by_one_round_at_most(
    worlds, seed: int
) -> None:
    draw = np.random.default_rng(seed)
    one = worlds.evidence(draw, worlds.truth(TRUTH), 1)
    # A latent fit of 1 is about the limit between "just right" and "a little deep".
    expected = estimator.SLOPE * design(one.columns).excess[0] / 1.5
    for score in range(-2, 3):
        if abs(score - expected) <= 1:
            told = Evidence.of({**one.columns, "fit_score": np.array([score * 1.0])}, one.reporter)
            after = calibrate(told)
            for question in worlds.questions(draw, 10):
                moved = suggest(after, question).best.slow_decrease_rounds
                moved -= suggest(geometry_alone(), question).best.slow_decrease_rounds
                assert abs(moved) <= 1


def test_a_thousand_reports_recover_the_truth_within_the_stated_standard_errors(worlds) -> None:
    truth = worlds.truth(TRUTH, reporter_sd=0.4)
    distances = []
    for seed in range(8):
        evidence = worlds.evidence(np.random.default_rng(seed), truth, 1000)
        found = estimator.fit(evidence)
        errors = np.sqrt(np.diag(found.covariance))
        distances.append((found.mean[:2] - truth.vector[:2]) / errors[:2])
        assert errors[SLOPE] < 0.1
        assert found.mean[SLOPE] == pytest.approx(truth.vector[SLOPE], abs=0.3)
        assert found.offset_sd == pytest.approx(0.4, abs=0.15)
        assert found.contamination < 0.04
    assert np.abs(distances).max() < 3.5
    assert np.sqrt(np.mean(np.square(distances))) < 1.6


def test_more_reports_make_the_slope_surer(worlds) -> None:
    truth = worlds.truth(TRUTH)
    variances = [
        estimator.fit(worlds.evidence(np.random.default_rng(5), truth, n)).covariance[SLOPE, SLOPE]
        for n in (0, 10, 100, 1000)
    ]
    assert variances == sorted(variances, reverse=True)
    assert variances[-1] < variances[0] / 5


def test_one_reporter_who_floods_moves_suggestions_little(worlds) -> None:
    draw = np.random.default_rng(3)
    told = worlds.evidence(draw, worlds.truth(TRUTH), 300)
    flood = worlds.evidence(draw, worlds.truth(TRUTH), 600)
    columns = {n: np.concatenate([told.columns[n], flood.columns[n]]) for n in COLUMNS}
    columns["fit_score"][300:] = -2
    reporter = np.concatenate([np.arange(300) // 6, np.full(600, 99)])
    flooded = calibrate(Evidence.of(columns, reporter))
    clean = calibrate(Evidence.of(told.columns, np.arange(300) // 6))
    moved = [
        suggest(flooded, question).wanted_depth_mm - suggest(clean, question).wanted_depth_mm
        for question in worlds.questions(draw, 30)
    ]
    assert np.mean(np.abs(moved)) < 1.5  # a slow-decrease round is about 7 mm


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_neither_the_order_of_rows_nor_the_names_of_reporters_change_a_bit(
    seed: int,
) -> None:
    evidence = ORDERED[0]
    order = np.random.default_rng(seed).permutation(evidence.reports)
    mixed = Evidence.of(
        {name: values[order] for name, values in evidence.columns.items()},
        np.random.default_rng(seed).permutation(1000)[evidence.reporter[order]],
    )
    one, two = estimator.fit(evidence), estimator.fit(mixed)
    assert one.mean.tobytes() == two.mean.tobytes()
    assert one.covariance.tobytes() == two.covariance.tobytes()
    assert one == type(one)(one.mean, one.covariance, *list(vars(two).values())[2:])
    assert evidence.fingerprint() == mixed.fingerprint()


ORDERED: list[Evidence] = []


@pytest.fixture(autouse=True)
def _ordered(evidence: Evidence) -> None:
    ORDERED[:] = [evidence]


@pytest.mark.parametrize("column", COLUMNS)
def test_another_value_anywhere_gives_another_fingerprint(evidence, column: str) -> None:
    values = evidence.columns[column].copy()
    values[np.flatnonzero(~np.isnan(values))[0]] += 1
    other = Evidence.of({**evidence.columns, column: values}, evidence.reporter)
    assert other.fingerprint() != evidence.fingerprint()


def same_score(columns: dict, draw: np.random.Generator) -> None:
    columns["fit_score"][:] = 0


def all_too_deep(columns: dict, draw: np.random.Generator) -> None:
    columns["fit_score"][:] = 2


def all_alike(columns: dict, draw: np.random.Generator) -> None:
    for name in COLUMNS[:-1]:
        columns[name][:] = columns[name][0]


def deeper_scores_lower(columns: dict, draw: np.random.Generator) -> None:
    order = np.argsort(columns["slow_decrease_rounds"])
    columns["fit_score"][order] = np.sort(columns["fit_score"])[::-1]


def without_any_diagonal(columns: dict, draw: np.random.Generator) -> None:
    columns["heel_diagonal_mm"][:] = np.nan
    columns["ankle_circumference_mm"][:] = np.nan


@pytest.mark.parametrize(
    "spoil", [same_score, all_too_deep, all_alike, deeper_scores_lower, without_any_diagonal]
)
@pytest.mark.parametrize("number", [1, 2, 60])
def test_odd_evidence_gives_finite_numbers_and_positive_variances(worlds, spoil, number) -> None:
    draw = np.random.default_rng(11)
    told = worlds.evidence(draw, worlds.truth(TRUTH), number)
    columns = {name: values.copy() for name, values in told.columns.items()}
    spoil(columns, draw)
    found = estimator.fit(Evidence.of(columns, told.reporter))
    assert np.isfinite(found.mean).all()
    assert np.linalg.eigvalsh(found.covariance).min() > 0
    assert found.noise_variance > 1
    assert np.isfinite(found.noise_variance)
    assert 0 <= found.misfit_variance < np.inf
