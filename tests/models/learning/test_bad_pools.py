"""Thin, odd and spoiled pools: an honest answer, never a crash and never a confident number."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from models.learning.calibration import Calibration, calibrate
from models.learning.evidence import COLUMNS, QUESTION_COLUMNS, Evidence
from models.learning.question import Question
from models.learning.suggest import Answer, suggest
from models.learning.terms import EXCESS

TRUTH = {EXCESS: 1.5, "intercept": -0.3, "ankle": 0.3}
Columns = dict[str, np.ndarray]


def drawn(worlds, number: int, seed: int = 0) -> Evidence:
    truth = worlds.truth(TRUTH, reporter_sd=0.4)
    return worlds.evidence(np.random.default_rng(seed), truth, number)


def changed(evidence: Evidence, change: Callable[[Columns], None]) -> Evidence:
    columns = {name: values.copy() for name, values in evidence.columns.items()}
    change(columns)
    return Evidence.of(columns, evidence.reporter)


def every_score(score: float) -> Callable[[Columns], None]:
    return lambda columns: columns["fit_score"].fill(score)


def one_sock(columns: Columns) -> None:
    for name in QUESTION_COLUMNS:
        columns[name].fill(columns[name][0])


def one_depth(columns: Columns) -> None:
    for name in COLUMNS:
        if name.endswith(("_rounds", "_10cm", "stitches")):
            columns[name].fill(columns[name][0])


def twice_the_same(columns: Columns) -> None:
    columns["ankle_circumference_mm"][:] = columns["foot_circumference_mm"]


POOLS: dict[str, Callable] = {
    "one report": lambda worlds: drawn(worlds, 1),
    "one reporter": lambda worlds: replace(drawn(worlds, 30), reporter=np.zeros(30, np.int64)),
    "one reporter, all just right": lambda worlds: replace(
        changed(drawn(worlds, 400), every_score(0)), reporter=np.zeros(400, np.int64)
    ),
    "all just right": lambda worlds: changed(drawn(worlds, 30), every_score(0)),
    "all far too shallow": lambda worlds: changed(drawn(worlds, 30), every_score(-2)),
    "all a little deep": lambda worlds: changed(drawn(worlds, 30), every_score(1)),
    "all socks alike": lambda worlds: changed(drawn(worlds, 30), one_sock),
    "one depth": lambda worlds: changed(drawn(worlds, 30), one_depth),
    "the same column twice": lambda worlds: changed(drawn(worlds, 30), twice_the_same),
}


@pytest.mark.parametrize("name", POOLS)
def test_thin_and_odd_pools_get_finite_and_modest_answers(worlds, name: str) -> None:
    calibration = calibrate(POOLS[name](worlds))
    for question in worlds.questions(np.random.default_rng(1), 20):
        answer = suggest(calibration, question)
        chances = [candidate.chance_just_right for candidate in answer.candidates]
        assert np.isfinite(chances).all()
        assert max(chances) < 0.85
        assert np.diff(answer.unrounded)[0] * 30 / question.gauge.rounds_per_10cm > 0.3  # cm


def width(answer: Answer) -> float:
    return float(np.diff(answer.unrounded)[0])


@pytest.fixture(scope="module")
def calibrated(worlds_) -> Calibration:
    return calibrate(drawn(worlds_, 400))


def mean_width(calibration: Calibration, questions: list[Question]) -> float:
    return float(np.mean([width(suggest(calibration, question)) for question in questions]))


def test_a_yarn_weight_never_seen_widens_the_range(worlds, calibrated) -> None:
    asked = [replace(q, yarn_weight=1) for q in worlds.questions(np.random.default_rng(1), 30)]
    strange = [replace(question, yarn_weight=7) for question in asked]
    assert mean_width(calibrated, strange) > 1.1 * mean_width(calibrated, asked)


def test_a_foot_outside_everything_seen_is_answered_less_surely(worlds, calibrated) -> None:
    asked = worlds.questions(np.random.default_rng(1), 30)
    wide = [
        replace(q, foot={**q.foot, "heel_diagonal_mm": q.foot["heel_diagonal_mm"] * 1.25})
        for q in asked
    ]
    assert mean_width(calibrated, wide) > 1.5 * mean_width(calibrated, asked)


def test_more_reports_narrow_the_range(worlds) -> None:
    asked = worlds.questions(np.random.default_rng(1), 20)
    few, many = (mean_width(calibrate(drawn(worlds, n)), asked) for n in (20, 800))
    assert many < 0.6 * few


def test_one_leverage_row_moves_the_answers_little(worlds) -> None:
    def misread(columns: Columns) -> None:
        columns["heel_diagonal_mm"][0] *= 1.6

    evidence = drawn(worlds, 100)
    clean, wild = calibrate(evidence), calibrate(changed(evidence, misread))
    moved = [
        suggest(wild, question).wanted_depth_mm - suggest(clean, question).wanted_depth_mm
        for question in worlds.questions(np.random.default_rng(1), 30)
    ]
    assert np.mean(np.abs(moved)) < 1.0
