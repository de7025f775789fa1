"""Analytic derivatives agree with finite differences, offsets and gross errors included."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.learning.ordinal.blocks import InMemory
from models.learning.ordinal.information import expected_curvature, observed_curvature
from models.learning.ordinal.laplace import Point, Search
from models.learning.ordinal.likelihood import Noise, position_terms, row_terms
from models.learning.ordinal.links import LINKS
from models.learning.ordinal.problem import Beliefs, Prior, Rows
from models.learning.ordinal.reporters import Reporters
from models.learning.ordinal.row_blocks import RowBlocks
from models.learning.ordinal.scales import Scales
from models.learning.ordinal.strays import no_doubts

STEP = 1e-5


def small_search(link: str, contamination: float, seed: int = 0) -> Search:
    rng = np.random.default_rng(seed)
    n, reporters = 60, np.sort(rng.integers(0, 15, 60))
    design = np.column_stack([np.ones(n), rng.normal(size=(n, 2))])
    noise = Noise(LINKS[link], contamination, 1.0 + rng.random(n))
    category = rng.integers(0, 5, n)
    rows = Rows(design, category, rng.random(n) + 0.5, noise, Reporters.from_sorted(reporters), 5)
    prior = Prior(np.zeros(6), np.full(6, 2.0), np.full(6, -1), np.zeros(0))
    beliefs = Beliefs(
        offset_sd=0.8,
        learn_offset_sd=True,
        offset_log_sd_spread=np.inf,
        stray_share=0.0,
        stray_reporters=1.0,
        contamination=contamination,
        contamination_reports=np.inf,
    )
    return Search(whole(rows), prior, beliefs, 1e-12, 100)


def whole(rows: Rows) -> RowBlocks:
    return RowBlocks.of(InMemory((rows,)))


def rows_of(search: Search) -> Rows:
    return search.rows.blocks.parts[0]


def at(search: Search, parameters: np.ndarray, log_sd: float = -0.3) -> Point:
    scales = Scales(log_sd, np.zeros(0), search.beliefs.contamination)
    count = search.rows.reporters
    return search.evaluate(parameters, scales, no_doubts(count, 0.0, 1.0), np.zeros(count))


PLACE = np.array([0.2, 0.7, -0.4, -0.3, 0.4, 0.1])


@pytest.mark.parametrize("link", ["probit", "logit"])
@pytest.mark.parametrize("contamination", [0.0, 0.05])
def test_gradient_of_the_laplace_marginal(link, contamination) -> None:
    search = small_search(link, contamination)
    numeric = [
        (at(search, PLACE + e).objective - at(search, PLACE - e).objective) / (2 * STEP)
        for e in STEP * np.eye(6)
    ]
    np.testing.assert_allclose(search.gradient(at(search, PLACE)), numeric, atol=2e-6)


@pytest.mark.parametrize("link", ["probit", "logit"])
def test_slope_of_the_marginal_by_the_log_offset_sd(link) -> None:
    search = small_search(link, 0.0)
    ends = [at(search, PLACE, -0.3 + side * STEP).objective for side in (-1, 1)]
    slope, _ = at(search, PLACE).offsets.log_sd_slope(np.zeros(search.rows.reporters))
    assert slope == pytest.approx((ends[1] - ends[0]) / (2 * STEP), abs=2e-6)


@pytest.mark.parametrize("link", ["probit", "logit"])
def test_slope_of_the_marginal_by_the_share_of_gross_errors(link) -> None:
    search, ends = small_search(link, 0.05), []
    for side in (-1, 1):
        scales = Scales(-0.3, np.zeros(0), 0.05 + side * STEP)
        count = search.rows.reporters
        doubts = no_doubts(count, 0.0, 1.0)
        ends.append(search.evaluate(PLACE, scales, doubts, np.zeros(count)).objective)
    slope, _ = search.contamination_sums(at(search, PLACE))
    assert slope == pytest.approx((ends[1] - ends[0]) / (2 * STEP), rel=1e-5)


@pytest.mark.parametrize("link", ["probit", "logit"])
def test_observed_information_is_minus_the_hessian_without_offsets(link) -> None:
    search = small_search(link, 0.05)
    search = replace(search, beliefs=replace(search.beliefs, offset_sd=0.0))
    numeric = [
        -(search.gradient(at(search, PLACE + e)) - search.gradient(at(search, PLACE - e)))
        / (2 * STEP)
        for e in STEP * np.eye(6)
    ]
    analytic = search.information(at(search, PLACE), observed=True)
    np.testing.assert_allclose(analytic, numeric, atol=2e-5)


@pytest.mark.parametrize("link", ["probit", "logit"])
def test_expected_curvature_is_the_mean_of_the_observed_one(link) -> None:
    limits, eta = np.array([-1.5, -0.6, 0.8, 1.4]), np.array([0.3])
    noise, one = Noise(LINKS[link], 0.03, np.array([1.2])), np.ones(1)
    edges = np.array([-1e8, *limits, 1e8])
    below = noise.link.cumulative((edges - eta) / 1.2)
    chance = 0.97 * np.diff(below) + 0.03 / 5
    total = np.zeros((1, 4))
    for j in range(5):
        terms = row_terms(noise, limits, eta, np.array([j]), one)
        total += chance[j] * observed_curvature(terms, np.array([j]), 5).diagonal
    np.testing.assert_allclose(
        expected_curvature(noise, limits, eta, one).diagonal, total, atol=1e-9
    )


def test_short_terms_equal_the_full_ones() -> None:
    search = small_search("probit", 0.02)
    rows, limits = rows_of(search), np.array([-1.5, -0.6, 0.8, 1.4])
    eta = rows.design @ PLACE[:3]
    full = row_terms(rows.noise, limits, eta, rows.category, rows.weight)
    slope, bend = position_terms(rows.noise, limits, eta, rows.category, rows.weight)
    np.testing.assert_allclose(slope, full.position, rtol=1e-12)
    np.testing.assert_allclose(bend, full.curvature, rtol=1e-9, atol=1e-12)


def test_information_equals_the_dense_second_derivation() -> None:
    """Blocked elimination equals the Schur complement of the whole dense matrix."""
    search = small_search("probit", 0.0)
    point = at(search, PLACE)
    blocked = search.information(point)
    rows = rows_of(search)
    who, p = rows.reporters, rows.n_coefficients
    offsets = np.eye(who.count)[who.of_row]
    wide = replace(rows, design=np.hstack([rows.design, offsets]))
    nobody = Reporters.from_sorted(np.arange(len(who.of_row)))
    loose = Prior(
        np.zeros(6 + who.count),
        np.full(6 + who.count, np.inf),
        np.full(6 + who.count, -1),
        np.zeros(0),
    )
    dense_search = replace(
        search,
        rows=whole(replace(wide, reporters=nobody)),
        prior=loose,
        beliefs=replace(search.beliefs, offset_sd=0.0),
    )
    everything = np.concatenate([PLACE[:p], point.offsets.mode, PLACE[p:]])
    dense = dense_search.information(at(dense_search, everything))
    dense[p : p + who.count, p : p + who.count] += np.diag(point.offsets.precision)
    order = [*range(p), *range(p + who.count, p + who.count + 3), *range(p, p + who.count)]
    dense = dense[np.ix_(order, order)]
    schur = dense[:6, :6] - dense[:6, 6:] @ np.linalg.solve(dense[6:, 6:], dense[6:, :6])
    np.testing.assert_allclose(blocked, schur + np.eye(6) / 4.0, rtol=1e-6, atol=1e-6)
