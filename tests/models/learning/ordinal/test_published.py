"""The estimator reproduces published ordinal regressions.

Convention: logit P(Y <= j) = threshold_j - x'coef, as in McCullagh (1980); Agresti and SAS print
the coefficients with the other sign.

Wine: Randall, J. (1989), Biometrical Journal 7, 781-793: nine judges, eight bottles each.
Mental impairment: Agresti, A., Analysis of Ordinal Categorical Data; forty people.
"""

from __future__ import annotations

import csv
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from scipy.special import expit

from models.learning.ordinal.regression import OrdinalRegression

WINE_RATINGS = np.array(
    [
        [2, 3, 3, 4, 4, 4, 5, 5],
        [1, 2, 1, 3, 2, 3, 5, 4],
        [2, 3, 3, 2, 5, 5, 4, 4],
        [3, 2, 3, 2, 3, 2, 5, 3],
        [2, 3, 4, 3, 3, 3, 3, 3],
        [3, 2, 3, 2, 2, 4, 5, 4],
        [1, 1, 2, 2, 2, 3, 2, 3],
        [2, 2, 2, 3, 3, 3, 3, 4],
        [1, 2, 3, 2, 3, 2, 4, 4],
    ]
).reshape(-1)
WINE_WARM = np.tile([0, 0, 0, 0, 1, 1, 1, 1], 9)
WINE_CONTACT = np.tile([0, 0, 1, 1, 0, 0, 1, 1], 9)
WINE_JUDGE = np.repeat(np.arange(9), 8)
WINE = np.column_stack([WINE_WARM, WINE_CONTACT]).astype(float)

# Columns: impairment 0-3, high socio-economic status, life events.
MENTAL = np.array(
    [
        *[(0, 1, e) for e in (1, 9, 0, 4, 3, 3, 3, 7)],
        *[(0, 0, e) for e in (2, 2, 1, 1)],
        *[(1, 1, e) for e in (1, 9, 3, 3, 5, 5, 8, 2)],
        *[(1, 0, e) for e in (1, 6, 5, 3)],
        *[(2, 1, e) for e in (4, 6)],
        *[(2, 0, e) for e in (3, 3, 0, 9, 4)],
        *[(3, 1, e) for e in (7, 8, 8, 2)],
        *[(3, 0, e) for e in (5, 9, 4, 4, 8)],
    ]
)


def unpenalised(**changes: object) -> OrdinalRegression:
    """Return the estimator without any prior, that is, maximum likelihood."""
    free = {"prior_scale": np.inf, "intercept_scale": np.inf, "log_gap_scale": np.inf}
    return OrdinalRegression(**(free | {"tol": 1e-9, "max_iter": 500} | changes))


def standard_errors(model: OrdinalRegression) -> np.ndarray:
    p = model.posterior_.n_coefficients
    return np.sqrt(np.diag(model.posterior_.covariance))[1:p]


def test_wine_proportional_odds() -> None:
    # Christensen, ordinal package, clm tutorial: 2.50, 1.53; {-1.34, 1.25, 3.47, 5.01}.
    model = unpenalised(link="logit", curvature="observed").fit(WINE, WINE_RATINGS)
    np.testing.assert_allclose(model.coef_, [2.5031, 1.5278], atol=1e-4)
    np.testing.assert_allclose(model.thresholds_, [-1.3444, 1.2508, 3.4669, 5.0064], atol=1e-4)
    np.testing.assert_allclose(standard_errors(model), [0.5287, 0.4766], atol=1e-4)
    assert model.log_likelihood_ == pytest.approx(-86.4919, abs=1e-4)


def test_wine_fitted_chances() -> None:
    # Same source, recomputed: P(1..5) of cold without and warm with contact.
    model = unpenalised(link="logit").fit(WINE, WINE_RATINGS)
    for row, chances in (
        ([0, 0], [0.2068, 0.5706, 0.1923, 0.0236, 0.0067]),
        ([1, 1], [0.0046, 0.0538, 0.3042, 0.3636, 0.2738]),
    ):
        below = expit(model.thresholds_ - np.dot(row, model.coef_))
        np.testing.assert_allclose(np.diff([0.0, *below, 1.0]), chances, atol=1e-4)


def test_wine_probit() -> None:
    # Randall (1989) data; recomputed with statsmodels.
    model = unpenalised(link="probit").fit(WINE, WINE_RATINGS)
    np.testing.assert_allclose(model.coef_, [1.4994, 0.8677], atol=1e-4)
    np.testing.assert_allclose(model.thresholds_, [-0.7733, 0.7360, 2.0447, 2.9413], atol=1e-4)
    assert model.log_likelihood_ == pytest.approx(-85.7611, abs=1e-4)


def test_wine_with_interaction() -> None:
    # Randall (1989) data, interaction added; recomputed.
    design = np.column_stack([WINE, WINE.prod(axis=1)])
    model = unpenalised(link="logit").fit(design, WINE_RATINGS)
    np.testing.assert_allclose(model.coef_, [2.3212, 1.3475, 0.3595], atol=1e-4)
    assert model.log_likelihood_ == pytest.approx(-86.4162, abs=1e-4)


def test_wine_random_judge_by_laplace() -> None:
    # Christensen, clmm2 tutorial (from memory), recomputed with exact derivatives.
    model = unpenalised(link="logit", offset_sd=1.0).fit(WINE, WINE_RATINGS, groups=WINE_JUDGE)
    np.testing.assert_allclose(model.coef_, [3.0630, 1.8349], atol=1e-4)
    np.testing.assert_allclose(model.thresholds_, [-1.6237, 1.5134, 4.2285, 6.0888], atol=2e-4)
    assert model.posterior_.offset_sd**2 == pytest.approx(1.2795, abs=1e-4)
    assert model.log_likelihood_ == pytest.approx(-81.5654, abs=1e-4)


def test_mental_impairment() -> None:
    # Agresti (from memory: -0.319, +1.111 in his sign), recomputed.
    observed = unpenalised(link="logit", curvature="observed").fit(MENTAL[:, [2, 1]], MENTAL[:, 0])
    np.testing.assert_allclose(observed.coef_, [0.3189, -1.1112], atol=1e-4)
    np.testing.assert_allclose(observed.thresholds_, [-0.2819, 1.2128, 2.2094], atol=1e-4)
    assert observed.log_likelihood_ == pytest.approx(-49.5489, abs=1e-4)
    np.testing.assert_allclose(standard_errors(observed), [0.1210, 0.6109], atol=1e-4)
    expected = unpenalised(link="logit").fit(MENTAL[:, [2, 1]], MENTAL[:, 0])
    np.testing.assert_allclose(standard_errors(expected), [0.1194, 0.6143], atol=1e-4)


def applications() -> tuple[np.ndarray, np.ndarray]:
    """Read the 400 answers of the UCLA example from where statsmodels installs them."""
    spec = find_spec("statsmodels")
    if spec is None or spec.origin is None:
        pytest.skip("statsmodels, a test extra, is not installed")
    place = Path(spec.origin).parent / "miscmodels/tests/results/ologit_ucla.csv"
    with place.open(newline="", encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    levels = ["unlikely", "somewhat likely", "very likely"]
    design = [[float(row[name]) for name in ("pared", "public", "gpa")] for row in rows]
    return np.array(design), np.array([levels.index(row["apply"]) for row in rows])


@pytest.mark.parametrize(
    ("link", "coefficients", "thresholds"),
    [
        ("logit", [1.04769, -0.05879, 0.61594], [2.203915, 4.299363]),
        ("probit", [0.59811, 0.01016, 0.35815], [1.2968, 2.5028]),
    ],
)
def test_university_applications(link, coefficients, thresholds) -> None:
    # statsmodels 0.15.0, miscmodels/tests/results/results_ordinal_model.py (MASS::polr).
    model = unpenalised(link=link).fit(*applications())
    np.testing.assert_allclose(model.coef_, coefficients, atol=6e-4)
    np.testing.assert_allclose(model.thresholds_, thresholds, atol=6e-4)


def test_agrees_with_statsmodels_on_the_same_rows() -> None:
    ordinal_model = pytest.importorskip("statsmodels.miscmodels.ordinal_model")
    design, applied = applications()
    theirs = ordinal_model.OrderedModel(applied, design, distr="probit").fit(
        method="newton", disp=False
    )
    ours = unpenalised().fit(design, applied)
    np.testing.assert_allclose(ours.coef_, theirs.params[:3], atol=1e-5)
    assert ours.log_likelihood_ == pytest.approx(theirs.llf, abs=1e-7)
