"""The estimator against scikit-learn called directly, numpy, and worlds whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sklearn.linear_model import BayesianRidge

from models.domain.anthropometry import estimate
from models.domain.foot import MEASUREMENT_NAMES
from models.learning import estimator
from models.learning.calibration import calibrate, geometry_alone
from models.learning.evidence import COLUMNS, Evidence
from models.learning.suggest import suggest
from models.learning.terms import EXCESS, PRIOR_SDS, PRIOR_SLOPE, TERM_NAMES

TRUTH = {EXCESS: 0.9, "intercept": -0.25, "yarn_weight_2": 0.2, "heel_diagonal_mm": 0.1}


def by_hand(evidence: Evidence) -> np.ndarray:
    """Return the columns of the regression, worked out row by row from the definitions."""
    rows = []
    for values in zip(*(evidence.columns[name] for name in COLUMNS), strict=True):
        row = dict(zip(COLUMNS, values, strict=True))
        taken = {name: row[name] for name in MEASUREMENT_NAMES if row[name] == row[name]}
        foot = {name: estimate(name, taken).value for name in MEASUREMENT_NAMES}
        slow, medium, fast = (row[f"{key}_decrease_rounds"] for key in ("slow", "medium", "fast"))
        even = row["heel_stitches"] - row["heel_stitches"] % row["decreases_per_round"]
        closing = even - row["decreases_per_round"] * (slow + medium + fast)
        stitch = 100 / row["stitches_per_10cm"]
        depth = (row["plain_rounds"] + 4 * slow + 2 * medium + fast) * 100 / row["rounds_per_10cm"]
        across = (row["heel_stitches"] + closing) / 2 * stitch
        ideal = (0.9 * foot["heel_diagonal_mm"] - across) / 2
        tube = row["heel_stitches"] * stitch
        rows.append(
            [
                (depth - ideal) / 10,
                1,
                (foot["heel_diagonal_mm"] - 330) / 22,
                (foot["foot_length_mm"] - 260) / 17,
                (foot["foot_circumference_mm"] - 240) / 17,
                (foot["ankle_circumference_mm"] - 225) / 16,
                (tube - 215) / 20,
                (tube / foot["foot_circumference_mm"] - 1 + 0.10) / 0.07,
                (row["stitches_per_10cm"] - 30) / 5,
                *(float(row["yarn_weight"] == number) for number in range(8)),
            ]
        )
    return np.array(rows)


@pytest.fixture
def evidence(worlds) -> Evidence:
    truth = worlds.truth(TRUTH, share_without_diagonal=0.3)
    return worlds.evidence(np.random.default_rng(7), truth, 150)


def test_it_is_scikit_learns_bayesian_ridge_on_the_residual_from_the_geometry(evidence) -> None:
    matrix = by_hand(evidence)
    ridge = BayesianRidge(
        alpha_1=10,
        alpha_2=10 * (0.35 + 1 / 12),
        lambda_1=10,
        lambda_2=10,
        alpha_init=1 / (0.35 + 1 / 12),
        lambda_init=1,
        fit_intercept=False,
        max_iter=100,
        tol=1e-6,
    ).fit(matrix * PRIOR_SDS, evidence.score - PRIOR_SLOPE * matrix[:, 0])
    expected = ridge.coef_ * PRIOR_SDS + PRIOR_SLOPE * np.eye(len(TERM_NAMES))[0]
    found = estimator.fit(evidence)
    np.testing.assert_allclose(found.mean, expected, rtol=1e-8, atol=1e-10)
    covariance = ridge.sigma_ * PRIOR_SDS[:, None] * PRIOR_SDS
    np.testing.assert_allclose(found.covariance, covariance, rtol=1e-8, atol=1e-12)
    assert found.noise_variance == pytest.approx(1 / ridge.alpha_ - 1 / 12, rel=1e-8)


def test_with_fixed_precisions_it_is_the_closed_form_of_a_normal_prior(
    evidence, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(estimator, "_WEIGHT_OF_NOISE_PRIOR", 1e12)
    monkeypatch.setattr(estimator, "_WEIGHT_OF_SHRINKAGE_PRIOR", 1e12)
    matrix, noise = by_hand(evidence), 0.35 + 1 / 12
    precision = matrix.T @ matrix / noise + np.diag(1 / PRIOR_SDS**2)
    centre = PRIOR_SLOPE * np.eye(len(TERM_NAMES))[0]
    right = matrix.T @ evidence.score / noise + centre / PRIOR_SDS**2
    found = estimator.fit(evidence)
    np.testing.assert_allclose(found.mean, np.linalg.solve(precision, right), rtol=1e-6, atol=1e-8)
    np.testing.assert_allclose(found.covariance, np.linalg.inv(precision), rtol=1e-6, atol=1e-10)
    assert found.noise_variance == pytest.approx(0.35, rel=1e-6)


def test_without_reports_it_is_the_prior(worlds) -> None:
    nothing = worlds.evidence(np.random.default_rng(1), worlds.truth(TRUTH), 0)
    found, prior = estimator.fit(nothing), estimator.prior()
    assert found.mean.tolist() == prior.mean.tolist() == [0.8] + [0.0] * (len(TERM_NAMES) - 1)
    assert found.covariance.tolist() == np.diag(PRIOR_SDS**2).tolist()


@pytest.mark.parametrize("seed", range(10))
def test_one_report_within_a_point_of_the_geometry_moves_a_suggestion_by_one_round_at_most(
    worlds, seed: int
) -> None:
    draw = np.random.default_rng(seed)
    one = worlds.evidence(draw, worlds.truth(TRUTH), 1)
    expected = PRIOR_SLOPE * by_hand(one)[0, 0]
    for score in range(-2, 3):
        if abs(score - expected) <= 1:
            told = Evidence.of({**one.columns, "fit_score": np.array([score * 1.0])}, one.reporter)
            after = calibrate(told)
            for question in worlds.questions(draw, 10):
                moved = suggest(after, question).best.slow_decrease_rounds
                moved -= suggest(geometry_alone(), question).best.slow_decrease_rounds
                assert abs(moved) <= 1


def test_a_thousand_reports_recover_the_truth_within_the_stated_standard_errors(worlds) -> None:
    truth = worlds.truth(TRUTH, noise_sd=0.5)
    distances = []
    for seed in range(8):
        evidence = worlds.evidence(np.random.default_rng(seed), truth, 1000, spread=1)
        found = estimator.fit(evidence)
        errors = np.sqrt(np.diag(found.covariance))
        distances.append((found.mean - truth.vector)[:2] / errors[:2])
        assert errors[0] < 0.06
        assert found.mean[:2] == pytest.approx(truth.vector[:2], abs=0.2)
        assert found.noise_variance == pytest.approx(0.25, abs=0.05)
    assert np.abs(distances).max() < 3.5
    assert np.sqrt(np.mean(np.square(distances))) < 1.6


def test_more_reports_make_the_slope_surer(worlds) -> None:
    truth = worlds.truth(TRUTH)
    variances = [
        estimator.fit(worlds.evidence(np.random.default_rng(5), truth, n)).covariance[0, 0]
        for n in (0, 10, 100, 1000)
    ]
    assert variances == sorted(variances, reverse=True)
    assert variances[-1] < variances[0] / 50


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_the_order_of_the_rows_changes_no_bit(seed: int) -> None:
    evidence = ORDERED[0]
    order = np.random.default_rng(seed).permutation(evidence.reports)
    mixed = Evidence.of(
        {name: values[order] for name, values in evidence.columns.items()},
        evidence.reporter[order],
    )
    one, two = estimator.fit(evidence), estimator.fit(mixed)
    assert one.mean.tobytes() == two.mean.tobytes()
    assert one.covariance.tobytes() == two.covariance.tobytes()
    assert one.noise_variance == two.noise_variance
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
    assert found.noise_variance >= estimator.LEAST_NOISE_VARIANCE
