"""From what was typed to a question."""

from __future__ import annotations

import pytest

from models.domain.gauge import Gauge
from models.domain.proposal import proposed
from service.pages.kept import Kept
from service.pages.reading import proposal, read, read_question, read_step
from service.pages.steps import STEPS, step_of
from service.pages.told import told


def test_all_entries_make_the_question_that_the_api_would_be_asked(entries) -> None:
    question, problems = read_question(entries())
    assert problems == ()
    assert question is not None
    assert dict(question.foot) == {
        "foot_length_mm": 252,
        "foot_circumference_mm": 236,
        "heel_diagonal_mm": 318,
    }
    assert (question.yarn_weight, question.gauge) == (1, Gauge(30, 42))
    assert question.policy == proposed(question.foot, question.gauge)


def test_a_gauge_over_four_inches_is_less_on_ten_centimetres(entries) -> None:
    question, _ = read_question(entries(width="4in", stitches_per_10cm="32"))
    assert question is not None
    assert question.gauge.stitches_per_10cm == pytest.approx(32 / 1.016)


def test_stitches_follow_the_foot_until_they_are_changed(entries) -> None:
    kept = entries()
    assert "heel_stitches" not in kept.entries
    assert told(kept, step_of("heel_stitches").fields[0], proposal(kept)) == "64, as proposed"
    kept = kept.having("foot_circumference_mm", "26.5", "cm")
    question, _ = read_question(kept)
    assert question is not None
    assert question.policy.heel_stitches == 72
    question, _ = read_question(kept.having("heel_stitches", "68"))
    assert question is not None
    assert question.policy.heel_stitches == 68


def test_without_anything_every_question_that_must_be_answered_is_open(entries) -> None:
    _, problems = read_question(Kept())
    assert [problem.name for problem in problems] == [
        quantity.name for step in STEPS for quantity in step.fields if quantity.required
    ]
    assert all(problem.name in {q.name for q in problem.step.fields} for problem in problems)


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("stitches_per_10cm", "3", "from 4 to 80 (stitches) in 10 cm"),
        ("rounds_per_10cm", "many", "“many” will not do"),
        ("rounds_per_10cm", "42 cm", "“42 cm” will not do"),
        ("yarn_weight", "9", "from 0 to 7"),
        ("heel_stitches", "64.5", "a whole number"),
        ("heel_stitches", "4000", "from 8 to 400"),
        ("closing_stitches", "15", "12 or 16"),
        ("medium_decrease_rounds", "", "Give the medium decrease rounds."),
    ],
)
def test_what_cannot_be_is_said_in_words(entries, name: str, text: str, words: str) -> None:
    found = read_step(entries(**{name: text}), step_of(name))
    assert [problem.name for problem in found.problems] == [name]
    assert words in found.problems[0].text
    assert "_" not in found.problems[0].text


def test_a_measurement_that_contradicts_the_others_is_asked_back_by_the_domain(
    entries,
) -> None:
    found = read_step(entries(heel_diagonal_mm="12.5 cm"), step_of("heel_diagonal_mm"))
    assert [problem.text for problem in found.problems] == [
        "Heel diagonal: 125.0 will not do; looks like inches given as centimetres: 125 would be "
        "318 mm."
    ]


def test_thousands_in_a_count_are_no_doubt_where_only_one_reading_can_be(entries) -> None:
    assert read(entries(rounds_per_10cm="42,000")).values["rounds_per_10cm"] == 42


def test_decimals_of_a_whole_number_that_are_zero_do_not_matter(entries) -> None:
    assert read(entries(heel_stitches="60,0")).values["heel_stitches"] == 60
