"""Scores by depth: the slices recomputed by plain pandas, the curve by plain simulation."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from models.domain.geometry import across_mm, ideal_depth_mm
from models.learning.estimator import fit, prior
from models.learning.evidence import Evidence
from models.learning.evidence_blocks import EvidenceBlocks
from models.learning.held_out import Foreseen, learned_from
from models.learning.predictive import expected_scores, score_chances
from models.learning.score_curve import score_curve
from models.learning.slices import slices


@pytest.fixture(scope="module")
def pool(worlds_) -> Evidence:
    draw = np.random.default_rng(77)
    return worlds_.evidence(draw, worlds_.truth.drawn(draw, reporter_sd=0.4), 600)


@pytest.fixture(scope="module")
def foreseen(pool) -> Foreseen:
    return learned_from(pool, np.ones(pool.reports, dtype=bool))


def frame(pool: Evidence, foreseen: Foreseen) -> pd.DataFrame:
    """Return the pool with excess depths worked out from rounds and gauge."""
    table = pd.DataFrame({**pool.columns, "who": pool.reporter})
    rounds = table.plain_rounds + 4 * table.slow_decrease_rounds
    rounds = rounds + 2 * table.medium_decrease_rounds + table.fast_decrease_rounds
    decreased = table[[f"{name}_decrease_rounds" for name in ("slow", "medium", "fast")]].sum(
        axis=1
    )
    closing = table.heel_stitches // 4 * 4 - 4 * decreased
    across = across_mm(table.heel_stitches, closing, table.stitches_per_10cm)
    depth = rounds * 100 / table.rounds_per_10cm
    table["excess"] = depth - ideal_depth_mm(table.heel_diagonal_mm, across)
    table["expected"] = foreseen.chances @ np.arange(-2, 3)
    table["number"] = np.clip(np.floor(table.excess / 5), -5, 4).astype(int)
    return table


def test_slices_are_what_pandas_groups_and_none_is_of_fewer_than_ten_people(pool, foreseen) -> None:
    whole = ~np.isnan(pool.columns["heel_diagonal_mm"])
    measured, chances = pool.only(whole), Foreseen(foreseen.chances[whole], foreseen.beyond[whole])
    grouped = frame(measured, chances).groupby("number")
    found = slices(measured, chances)
    enough = grouped.who.nunique()
    assert [one["number"] for one in found] == sorted(enough[enough >= 10].index)
    assert len(found) > 3
    for one in found:
        group = grouped.get_group(one["number"])
        assert one["excess_mm"] == pytest.approx(group.excess.mean())
        assert one["reported"] == pytest.approx(group.fit_score.mean())
        assert one["foreseen"] == pytest.approx(group.expected.mean())
        assert {who for who, _ in one["rows"]} == set(group.who)
        sums = (group.fit_score - group.fit_score.mean()).groupby(group.who).sum() / len(group)
        error = (len(sums) / (len(sums) - 1) * (sums**2).sum()) ** 0.5
        assert one["standard_error"] == pytest.approx(error)


def test_digests_change_for_whom_says_something_else_and_for_nobody_else(pool, foreseen) -> None:
    before = slices(pool, foreseen)
    one = int(np.bincount(pool.reporter).argmax())
    score = np.where(pool.reporter == one, pool.score - 1, pool.score)
    other = Evidence({**pool.columns, "fit_score": score}, pool.reporter)
    changed = [
        who
        for was, now in zip(before, slices(other, foreseen), strict=True)
        for (who, said), (_, instead) in zip(was["rows"], now["rows"], strict=True)
        if said != instead
    ]
    assert changed
    assert set(changed) == {one}


def test_the_curve_rises_and_passes_near_what_slices_report(pool, foreseen) -> None:
    curve = pd.DataFrame(score_curve(fit(pool), EvidenceBlocks.whole(pool)))
    assert curve.expected.is_monotonic_increasing
    assert (curve.low <= curve.expected).all()
    assert (curve.expected <= curve.high).all()
    for one in slices(pool, foreseen):
        if abs(one["excess_mm"]) <= 15:
            near = np.interp(one["excess_mm"], curve.excess_mm, curve.expected)
            assert near == pytest.approx(one["foreseen"], abs=0.35)


def test_at_one_sock_and_with_nothing_left_open_the_curve_is_what_is_foreseen(pool) -> None:
    sure = replace(prior(), covariance=np.zeros_like(prior().covariance))
    rounds = np.arange(9.0)
    first = {name: np.repeat(values[:1], 9) for name, values in pool.columns.items()}
    first |= {"heel_diagonal_mm": np.full(9, 315.0), "slow_decrease_rounds": rounds}
    # A slow-decrease round more for a fast one less keeps the stitches that are closed.
    first["fast_decrease_rounds"] = 20 - rounds
    socks = Evidence(first, np.arange(9))
    alike = socks.only(np.arange(9) == 4)
    excess = frame(socks, Foreseen(np.full((9, 5), 0.2), rounds)).excess
    curve = pd.DataFrame(score_curve(sure, EvidenceBlocks.whole(alike)))
    wanted = expected_scores(score_chances(sure, socks))[0]
    inside = np.abs(excess) <= 25
    assert inside.sum() >= 3
    drawn = np.interp(excess[inside], curve.excess_mm, curve.expected)
    assert drawn == pytest.approx(wanted[inside], abs=0.01)
    assert curve.low.to_numpy() == pytest.approx(curve.expected.to_numpy(), abs=1e-6)
