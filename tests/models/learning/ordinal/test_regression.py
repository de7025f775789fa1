"""The estimator recovers what is there, keeps its contract and does not depend on row order."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sklearn.utils.estimator_checks import parametrize_with_checks

from models.learning.ordinal.regression import OrdinalRegression


@parametrize_with_checks([OrdinalRegression(), OrdinalRegression(link="logit", offset_sd=0.5)])
def test_scikit_learn_contract(estimator, check) -> None:
    check(estimator)


def simulated(n: int, seed: int, offset_sd: float = 0.6, gross: float = 0.0):
    rng = np.random.default_rng(seed)
    design, who = rng.normal(size=(n, 3)), rng.integers(0, n // 6, n)
    latent = design @ [1.2, -0.5, 0.0] + 0.3 + rng.normal(size=n)
    latent += rng.normal(0.0, offset_sd, n // 6)[who]
    score = np.searchsorted([-1.8, -0.8, 0.8, 1.8], latent) - 2
    wrong = rng.random(n) < gross
    return design, np.where(wrong, rng.integers(-2, 3, n), score), who


def test_recovers_known_coefficients_within_their_errors() -> None:
    misses = []
    for seed in range(20):
        design, score, who = simulated(600, seed)
        model = OrdinalRegression(offset_sd=0.5).fit(design, score, groups=who)
        sd = np.sqrt(np.diag(model.posterior_.covariance)[1:4])
        misses.extend((model.coef_ - [1.2, -0.5, 0.0]) / sd)
    assert abs(np.mean(misses)) < 0.35
    assert 0.75 < np.std(misses) < 1.25


def test_recovers_offset_sd_thresholds_and_gross_errors() -> None:
    design, score, who = simulated(20_000, 1, gross=0.06)
    model = OrdinalRegression(offset_sd=0.3, contamination=0.02, contamination_reports=50.0).fit(
        design, score, groups=who
    )
    assert model.posterior_.offset_sd == pytest.approx(0.6, abs=0.06)
    assert model.contamination_ == pytest.approx(0.06, abs=0.015)
    np.testing.assert_allclose(model.thresholds_, np.array([-1.8, -0.8, 0.8, 1.8]) - 0.3, atol=0.06)


def test_without_contamination_gross_errors_flatten_the_slope() -> None:
    design, score, who = simulated(4000, 2, gross=0.08)
    naive = OrdinalRegression(offset_sd=0.5).fit(design, score, groups=who)
    aware = OrdinalRegression(offset_sd=0.5, contamination=0.03, contamination_reports=50.0)
    aware.fit(design, score, groups=who)
    assert abs(aware.coef_[0] - 1.2) < 0.5 * abs(naive.coef_[0] - 1.2)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_order_of_rows_changes_no_bit(seed) -> None:
    design, score, who = simulated(120, 3)
    order = np.random.default_rng(seed).permutation(120)
    options = {"offset_sd": 0.5, "prior_scale": 1.0, "prior_block": [0, 0, -1]}
    one = OrdinalRegression(**options).fit(design, score, groups=who)
    two = OrdinalRegression(**options).fit(design[order], score[order], groups=who[order])
    for name in ("mean", "covariance"):
        first, second = (getattr(model.posterior_, name) for model in (one, two))
        assert first.tobytes() == second.tobytes()
    assert one.posterior_.offset_sd == two.posterior_.offset_sd


def test_a_known_reporter_gets_a_personal_answer_and_a_stranger_the_population_s() -> None:
    design, score, who = simulated(900, 5, offset_sd=1.0)
    model = OrdinalRegression(offset_sd=0.5).fit(design, score, groups=who)
    deep = model.reporters_[np.argmax(model.offsets_)]
    plain = model.predict_proba(design[:1])
    np.testing.assert_array_equal(plain, model.predict_proba(design[:1], groups=[10**6]))
    assert model.predict_proba(design[:1], groups=[deep])[0, 4] > plain[0, 4]


def test_more_noise_in_a_row_pulls_its_chances_apart_less() -> None:
    design, score, _ = simulated(300, 6)
    model = OrdinalRegression().fit(design, score)
    sharp, blurred = (model.predict_proba([[2.0, 0, 0]], noise_sd=[sd])[0] for sd in (1.0, 3.0))
    assert blurred.max() < sharp.max()


def test_a_noisy_row_counts_less() -> None:
    design, score, _ = simulated(300, 7)
    noise = np.where(np.arange(300) < 150, 1.0, 50.0)
    wild = np.where(np.arange(300) < 150, score, -score)
    model = OrdinalRegression().fit(design, wild, noise_sd=noise)
    assert model.coef_[0] > 0.8


def test_reporters_who_score_everything_alike_are_doubted_and_move_little() -> None:
    design, score, who = simulated(1200, 9)
    clique = np.where(who % 5 == 0, -2, score)
    options = {"offset_sd": 0.5, "offset_log_sd_spread": 0.3}
    moved = []
    for share in (0.0, 0.05):
        model = OrdinalRegression(stray_share=share, **options)
        clean = model.fit(design, score, groups=who).intercept_
        moved.append(abs(model.fit(design, clique, groups=who).intercept_ - clean))
    assert model.doubts_[model.reporters_ % 5 == 0].mean() > 0.8
    assert model.doubts_[model.reporters_ % 5 != 0].mean() < 0.25
    assert moved[1] < 0.4 * moved[0]


def test_one_score_only_is_refused_unless_the_scale_is_given() -> None:
    with pytest.raises(ValueError, match="one class"):
        OrdinalRegression().fit([[0.0], [1.0]], [0, 0])
    model = OrdinalRegression(classes=[-2, -1, 0, 1, 2], prior_scale=0.5)
    model.fit([[0.0], [1.0]], [0, 0])
    assert np.all(np.isfinite(model.predict_proba([[0.5]])))


def test_a_score_off_the_scale_is_refused() -> None:
    with pytest.raises(ValueError, match="not among"):
        OrdinalRegression(classes=[-1, 0, 1]).fit([[0.0], [1.0]], [0, 2])


def test_a_fit_from_some_reporters_ends_where_the_whole_search_does(monkeypatch) -> None:
    design, score, who = simulated(3000, 8)
    whole = OrdinalRegression(offset_sd=0.5, tol=1e-8).fit(design, score, groups=who)
    monkeypatch.setattr("models.learning.ordinal.preparation.ENOUGH_TO_START", 500)
    started = OrdinalRegression(offset_sd=0.5, tol=1e-8).fit(design, score, groups=who)
    np.testing.assert_allclose(started.posterior_.mean, whole.posterior_.mean, atol=1e-6)
    assert started.n_iter_ <= whole.n_iter_
