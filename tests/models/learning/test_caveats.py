"""Warnings appear when they are due and not otherwise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.learning.calibration import Calibration, calibrate, geometry_alone, usable
from models.learning.caveats import caveats_for
from models.learning.evidence import Evidence
from models.learning.question import Question
from models.learning.suggest import suggest
from models.learning.terms import EXCESS, TERM_NAMES

SLOPE = TERM_NAMES.index(EXCESS)
QUESTION = Question(
    {
        "foot_length_mm": 252,
        "foot_circumference_mm": 236,
        "heel_diagonal_mm": 318,
        "ankle_circumference_mm": 220,
    },
    1,
    Gauge(30, 42),
    Policy(64, 16, 4),
)


def warned(question: Question, calibration: Calibration | None = None) -> dict[str, str]:
    """Return the warnings of an answer, texts by codes."""
    used = calibration or geometry_alone()
    found = caveats_for(used, question, suggest(used, question))
    return {warning.code: warning.text for warning in found}


def on(**foot: float) -> Question:
    return replace(QUESTION, foot={**QUESTION.foot, **foot})


def test_a_usual_question_has_no_warning_but_that_no_report_stands_behind_the_answer(
    calibrated,
) -> None:
    assert warned(QUESTION, calibrated) == {}
    assert list(warned(QUESTION)) == ["geometry_alone"]


def test_an_outdated_calibration_is_named(calibrated) -> None:
    stored = {**calibrated.to_json(), "terms": ["something else"]}
    assert list(warned(QUESTION, usable(stored))) == ["calibrate_again"]


def test_medium_rounds_that_do_not_fit_in_are_told_exactly_then() -> None:
    found = set()
    for heel in range(28, 80, 4):
        question = replace(QUESTION, policy=Policy(heel, 16, 4))
        done = suggest(geometry_alone(), question).schedule.counts["medium_decrease_rounds"]
        said = "fewer_medium_rounds" in warned(question)
        assert said is (done < 4)
        found.add(said)
    assert found == {True, False}


@pytest.mark.parametrize("stitches", [48, 52, 72, 76])
def test_a_sock_much_tighter_or_looser_than_the_foot_is_to_be_checked(stitches: int) -> None:
    ease = stitches * 100 / 30 / 236 - 1
    said = warned(replace(QUESTION, policy=Policy(stitches, 16, 4)))
    assert ("check_measurements" in said) is not (-0.30 <= ease <= 0.05)


def test_an_unmeasured_diagonal_is_told_with_its_size_and_sd() -> None:
    foot = {k: v for k, v in QUESTION.foot.items() if k != "heel_diagonal_mm"}
    said = warned(replace(QUESTION, foot=foot))
    diagonal = suggest(geometry_alone(), replace(QUESTION, foot=foot)).heel_diagonal
    told = said["estimated_heel_diagonal"]
    assert f"{diagonal.value:.0f} mm was taken, give or take {diagonal.sd:.0f}" in told
    assert "estimated_heel_diagonal" not in warned(QUESTION)


def test_too_few_stitches_are_told_exactly_when_the_wanted_depth_is_out_of_reach() -> None:
    found = {}
    for heel in range(20, 72, 4):
        question = replace(QUESTION, policy=Policy(heel, 16, 4))
        answer = suggest(geometry_alone(), question)
        due = answer.wanted_depth_mm > answer.candidates[-1].depth_mm
        found[heel] = "too_few_stitches" in warned(question)
        assert found[heel] == due
    assert found[20]
    assert not found[64]


def test_a_heel_that_is_deep_enough_without_slow_rounds_is_told_exactly_then() -> None:
    found = {}
    for plain in range(0, 60, 4):
        question = replace(QUESTION, policy=Policy(64, 16, 4, plain_rounds=plain))
        answer = suggest(geometry_alone(), question)
        due = answer.wanted_depth_mm < answer.candidates[0].depth_mm
        found[plain] = "already_deep_enough" in warned(question)
        assert found[plain] == due
        assert not due or answer.best.slow_decrease_rounds == 0
    assert found[56]
    assert not found[0]


@pytest.mark.parametrize("sds", [-3.01, -2.99, 2.99, 3.01])
def test_a_measurement_more_than_three_sds_out_extrapolates(sds: float) -> None:
    mean, sd = geometry_alone().seen.figures["ankle_circumference_mm"]
    said = warned(on(ankle_circumference_mm=mean + sds * sd))
    assert ("extrapolating" in said) is (abs(sds) > 3)
    usual = f"mostly {mean - 2 * sd:.0f} to {mean + 2 * sd:.0f} mm."
    assert any(usual in text for text in said.values()) is (abs(sds) > 3)


@pytest.fixture
def calibrated(worlds) -> Calibration:
    truth = worlds.truth({"excess_depth_cm": 1.5})
    return calibrate(worlds.evidence(np.random.default_rng(2), truth, 200))


def test_a_yarn_weight_without_reports_extrapolates(calibrated) -> None:
    assert calibrated.seen.yarn_weights == (0, 1, 2)
    bulky = replace(QUESTION, yarn_weight=5, gauge=Gauge(13, 17), policy=Policy(28, 8, 2))
    assert (
        "Too few people have reported on yarn weight 5 yet."
        in warned(bulky, calibrated)["extrapolating"]
    )
    assert "extrapolating" not in warned(QUESTION, calibrated)
    assert "extrapolating" not in warned(bulky)  # without reports no yarn is newer than another


@pytest.mark.parametrize("rounds", [29.9, 30, 54, 54.1])
def test_a_gauge_with_odd_proportions_is_to_be_checked(rounds: float) -> None:
    said = warned(replace(QUESTION, gauge=Gauge(30, rounds)))
    assert ("check_measurements" in said) is not (30 <= rounds <= 54)


def test_a_gauge_that_is_unusual_for_the_yarn_is_to_be_checked() -> None:
    assert "check_measurements" in warned(replace(QUESTION, yarn_weight=6))


def test_measurements_that_do_not_belong_together_are_to_be_checked() -> None:
    assert (
        "the other measurements suggest"
        in warned(on(ankle_circumference_mm=150))["check_measurements"]
    )


def one_report(columns: dict) -> None:
    for name, values in columns.items():
        columns[name] = values[:1]


def equal_scores(columns: dict) -> None:
    columns["fit_score"][:] = 0


def one_side(columns: dict) -> None:
    columns["fit_score"][:] = np.where(columns["fit_score"] > 0, 2, 1)


def alike(columns: dict) -> None:
    for name in columns.keys() - {"fit_score"}:
        columns[name][:] = columns[name][0]


def backwards(columns: dict) -> None:
    columns["fit_score"][:] = -columns["fit_score"]


@pytest.mark.parametrize("spoil", [one_report, equal_scores, one_side, alike, backwards])
@pytest.mark.parametrize("number", [20, 400])
def test_only_where_reports_establish_a_slope_do_they_answer(worlds, spoil, number) -> None:
    draw = np.random.default_rng(9)
    told = worlds.evidence(draw, worlds.truth({"excess_depth_cm": 1.5}), number)
    columns = {name: values.copy() for name, values in told.columns.items()}
    spoil(columns)
    calibration = calibrate(Evidence.of(columns, told.reporter[: len(columns["fit_score"])]))
    answer = suggest(calibration, QUESTION)
    assert np.isfinite([c.chance_just_right for c in answer.candidates]).all()
    said = warned(QUESTION, calibration)
    assert ("cannot_tell" in said) is not answer.established
    if answer.established:
        slope = calibration.posterior.mean[SLOPE]
        error = calibration.posterior.covariance[SLOPE, SLOPE] ** 0.5
        assert slope > 1.28 * error


def test_scores_that_fall_with_depth_end_in_cannot_tell(worlds) -> None:
    told = worlds.evidence(np.random.default_rng(9), worlds.truth({"excess_depth_cm": 1.5}), 400)
    columns = {**told.columns, "fit_score": -told.columns["fit_score"]}
    assert "cannot_tell" in warned(QUESTION, calibrate(Evidence.of(columns, told.reporter)))
