"""The figures of a card, recomputed by plain pandas or held against what must be so."""

from __future__ import annotations

import json
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from models.learning.bands import OTHER
from models.learning.calibration import calibrate_with_offsets
from models.learning.estimator import SCORES
from models.learning.evidence import Evidence
from models.learning.evidence_blocks import EvidenceBlocks
from models.learning.figures import coverage, foreseen_figures, learned_figures, reliability
from models.learning.held_out import Foreseen, learned_from


@pytest.fixture(scope="module")
def pool(worlds_) -> Evidence:
    draw = np.random.default_rng(31)
    return worlds_.evidence(draw, worlds_.truth.drawn(draw, reporter_sd=0.5), 500)


@pytest.fixture(scope="module")
def foreseen(pool) -> Foreseen:
    return learned_from(pool, np.ones(pool.reports, dtype=bool))


def right_world(reports: int) -> tuple[Evidence, Foreseen]:
    """Return reports drawn from the very chances that foresaw them."""
    draw = np.random.default_rng(5)
    chances = draw.dirichlet([0.3, 1, 3, 1, 0.3], reports)
    score = (draw.random(reports)[:, None] > chances.cumsum(axis=1)).sum(axis=1) + SCORES[0]
    columns = {"fit_score": score.astype(float)}
    return Evidence(columns, np.arange(reports) // 4), Foreseen(chances, np.zeros(reports))


def test_under_a_right_model_the_central_80_percent_hold_80_percent() -> None:
    found = coverage(*right_world(20_000))
    assert found["mean"] == pytest.approx(0.8, abs=4 * found["standard_error"])
    assert found["standard_error"] < 0.004


def test_who_is_too_sure_covers_less_and_who_is_not_sure_enough_more() -> None:
    evidence, right = right_world(20_000)
    for power, less in ((3.0, True), (0.3, False)):
        sharpened = right.chances**power
        sharpened /= sharpened.sum(axis=1, keepdims=True)
        wrong = coverage(evidence, Foreseen(sharpened, right.beyond))
        assert (wrong["mean"] < 0.78) is less
        assert (wrong["mean"] > 0.82) is not less


def test_what_is_stated_is_reported_that_often_under_a_right_model() -> None:
    for row in reliability(*right_world(20_000)):
        assert row["reported"] == pytest.approx(row["stated"], abs=0.06)


def test_reliability_is_what_pandas_groups(pool, foreseen) -> None:
    frame = pd.DataFrame(
        {"stated": foreseen.chances[:, 2], "right": pool.score == 0, "who": pool.reporter}
    )
    grouped = frame.groupby(np.floor(frame.stated * 10).astype(int))
    shown = [row for row in reliability(pool, foreseen) if row["label"] != OTHER]
    assert shown
    for row in shown:
        group = grouped.get_group(int(row["label"].split()[0]) // 10)
        assert row["stated"] == pytest.approx(group.stated.mean())
        assert row["reported"] == pytest.approx(group.right.mean())
        assert (row["reports"], row["people"]) == (len(group), group.who.nunique())


def test_residuals_are_what_was_scored_above_what_was_expected(pool, foreseen) -> None:
    residual = pool.score - foreseen.chances @ np.arange(-2, 3)
    frame = pd.DataFrame({"r": residual, "who": pool.reporter, **pool.columns})
    rows = foreseen_figures(pool, foreseen)["residuals"]["yarn_weight"]
    shown = [row for row in rows if row["label"] != OTHER]
    assert shown
    for row in shown:
        group = frame[frame.yarn_weight == int(row["label"].split()[0])]
        assert row["mean"] == pytest.approx(group.r.mean())
        sums = (group.r - group.r.mean()).groupby(group.who).sum() / len(group)
        people = len(sums)
        error = (people / (people - 1) * (sums**2).sum()) ** 0.5
        assert row["standard_error"] == pytest.approx(error)


def test_all_of_it_is_json_about_ten_people_or_more(pool, foreseen) -> None:
    fitted, offsets = calibrate_with_offsets(pool)
    figures = learned_figures(fitted, EvidenceBlocks.whole(pool), offsets) | foreseen_figures(
        pool, foreseen
    )
    again = json.loads(json.dumps(figures, allow_nan=False))
    assert again == figures
    cells = [*figures["counts"].values(), *figures["residuals"].values(), figures["reliability"]]
    assert all(len(row["rows"]) >= 10 for row in figures["slices"])
    for cell in cells:
        assert all(row["people"] >= 10 for row in cell)
        assert sum(row["reports"] for row in cell) == pool.reports


def test_a_reporter_who_scores_unlike_all_others_is_found(pool) -> None:
    one = int(np.bincount(pool.reporter).argmax())
    high = np.where(pool.reporter == one, 2.0, pool.score)
    fitted, offsets = calibrate_with_offsets(
        Evidence({**pool.columns, "fit_score": high}, pool.reporter)
    )
    figures = learned_figures(fitted, EvidenceBlocks.whole(pool), offsets)
    assert one in {row["reporter"] for row in figures["unusual_reporters"]}
    assert figures["unusual"] == len(figures["unusual_reporters"]) < 6


def test_reporters_with_unusual_offsets_are_told_by_their_number_in_the_evidence(pool) -> None:
    _, offsets = calibrate_with_offsets(pool.only(pool.reporter % 2 == 1))
    assert np.array_equal(offsets.reporter, np.unique(pool.reporter[pool.reporter % 2 == 1]))
    assert all(low < high for low, high in pairwise(offsets.reporter.tolist()))
