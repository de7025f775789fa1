"""Files of invented questions and what is answered, on both databases."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest

from models.actions import activations, calibrations, judging
from models.actions.answer_file import ANSWER_COLUMNS
from models.actions.import_reports import FileRefused
from models.actions.suggestions import ask
from models.domain.errors import Invalid
from models.domain.foot import MEASUREMENT_NAMES

ASKED = {
    "case_id": "a",
    "foot_length_mm": 252,
    "foot_circumference_mm": 236,
    "heel_diagonal_mm": 318,
    "ankle_circumference_mm": "",
    "yarn_weight": 1,
    "stitches_per_10cm": 30,
    "rounds_per_10cm": 42,
    "heel_stitches": 64,
    "closing_stitches": 16,
    "medium_decrease_rounds": 4,
}


def questions(*rows: dict[str, Any]) -> str:
    """Return a file of questions, each given by what differs from the first."""
    names = list(dict.fromkeys([*ASKED, *(name for row in rows for name in row)]))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(names)
    writer.writerows([{**ASKED, **row}.get(name, "") for name in names] for row in rows)
    return out.getvalue()


def varied(number: int) -> list[dict[str, Any]]:
    """Return invented questions that differ in foot, gauge, stitches and what is missing."""
    return [
        {
            "case_id": f"case {n}",
            "foot_length_mm": 215 + 5 * n,
            "foot_circumference_mm": 205 + 4 * n + (n % 3),
            "heel_diagonal_mm": "" if n % 2 else 275 + 5 * n,
            "ankle_circumference_mm": 195 + 3 * n if n % 3 else "",
            "yarn_weight": n % 8,
            "stitches_per_10cm": 12 + 2 * n + 0.5,
            "rounds_per_10cm": 17 + 3 * n,
            "heel_stitches": 28 + 4 * n + (n % 4),
            "closing_stitches": 8 + 4 * (n % 3),
            "medium_decrease_rounds": n % 5,
        }
        for n in range(number)
    ]


def as_given(row: dict[str, Any]) -> dict[str, Any]:
    """Return a question of a file as `POST .../suggestions` takes it."""
    given = {name: value for name, value in {**ASKED, **row}.items() if value != ""}
    foot = {name: float(given.pop(name)) for name in MEASUREMENT_NAMES if name in given}
    return {**{k: v for k, v in given.items() if k != "case_id"}, "foot": foot}


def test_the_answers_are_those_of_asking_one_by_one(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(60)))
    with pool.database.write.begin() as session:
        made = calibrations.keep_calibration(
            session, pool.steward, judging.calibrated(session, pool.steward)
        )
        activations.activate(session, pool.steward, made.id)
    asked = varied(14)
    answers = pool.answer(questions(*asked))
    assert [tuple(answer) for answer in answers] == [ANSWER_COLUMNS] * len(asked)
    for row, answer in zip(asked, answers, strict=True):
        with pool.database.write.begin() as session:
            expected = ask(session, pool.steward, as_given(row))
        codes = " ".join(dict.fromkeys(warning["code"] for warning in expected["warnings"]))
        wanted = [row["case_id"], *(str(expected[n]) for n in ANSWER_COLUMNS[1:-1]), codes]
        assert list(answer.values()) == wanted
        assert ("estimated_heel_diagonal" in codes) == (row["heel_diagonal_mm"] == "")


def test_the_columns_of_the_answer_are_those_that_were_agreed() -> None:
    agreed = "case_id, slow_decrease_rounds, chance_just_right, low, high, depth_mm, warnings"
    assert list(ANSWER_COLUMNS) == agreed.split(", ")


def test_plain_rounds_and_decreases_per_round_may_be_given_or_left_empty(pool) -> None:
    rows = [{}, {"plain_rounds": 3, "decreases_per_round": 4}, {"plain_rounds": 6}]
    usual, same, more = pool.answer(questions(*rows))
    assert usual == same
    for answer, plain in ((usual, 3), (more, 6)):
        slow = int(answer["slow_decrease_rounds"])
        medium = min(4, 12 - slow)
        rounds = plain + 4 * slow + 2 * medium + (12 - slow - medium)
        assert float(answer["depth_mm"]) == round(rounds * 100 / 42, 1)


@pytest.mark.only_on("sqlite")
def test_case_ids_come_back_as_they_were(pool) -> None:
    names = ["007", "NaN", "1.0", "a, b", 'q"q', "Zoë", "x" * 80]
    answers = pool.answer(questions(*({"case_id": name} for name in names)))
    assert [answer["case_id"] for answer in answers] == names


def test_a_case_id_that_would_run_as_a_formula_is_made_text(pool) -> None:
    (answer,) = pool.answer(questions({"case_id": "=1+1"}))
    assert answer["case_id"] == "'=1+1"


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"foot_length_mm": -1}, "foot_length_mm is -1: it must be a number from 60 to 400 (mm)"),
        (
            {"foot_length_mm": 98, "foot_circumference_mm": 228, "heel_diagonal_mm": ""},
            "foot_length_mm is 98: looks like inches given as centimetres: 98 would be 249 mm",
        ),
        ({"case_id": ""}, "case_id is missing: text of 1 to 80 characters in one line"),
        (
            {"closing_stitches": 17},
            "closing_stitches is 17: 64 stitches less 4 a round reach 16 or 20 (any multiple of 4 "
            "from 4 to 64)",
        ),
        (
            {"medium_decrease_rounds": 1.5},
            "medium_decrease_rounds is 1.5: it must be a whole number from 0 to 200 (rounds)",
        ),
    ],
)
def test_a_question_that_cannot_be_answered_is_named(pool, changed, said: str) -> None:
    with pytest.raises(FileRefused) as refused:
        pool.answer(questions({}, changed))
    assert [str(fault) for fault in refused.value.outcome.faults] == [f"row 3: {said}"]


def test_answerable_questions_can_be_answered_without_the_others(pool) -> None:
    rows = [{"case_id": "a"}, {"case_id": "b", "closing_stitches": 17}, {"case_id": "c"}]
    answers = pool.answer(questions(*rows), keep_good=True)
    assert [answer["case_id"] for answer in answers] == ["a", "c"]


def test_a_file_of_reports_is_no_file_of_questions(pool) -> None:
    with pytest.raises(Invalid, match="the file needs a column closing_stitches"):
        pool.answer(pool.sheets.of({}))
