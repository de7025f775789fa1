"""What may stand in a cell, and what an import says of everything else. All rows are invented."""

from __future__ import annotations

from datetime import timedelta

import pytest

from models.tables.base import now

LENGTH = "it must be a number from 60 to 400 (mm)"
ROUNDS = "it must be a whole number from 0 to 200 (rounds)"
SCORE = "it must be a whole number from -2 to 2"

NOT_A_LENGTH = {
    "-1": "-1",
    "0": "0",
    "59.9": "59.9",
    "NaN": "'NaN'",
    "nan": "'nan'",
    "N/A": "'N/A'",
    "NULL": "'NULL'",
    "inf": "'inf'",
    "-Infinity": "'-inf'",
    "1e400": "'inf'",
    "1e5": "100000",
    "1_000": "'1_000'",
    "0x10": "'0x10'",
    "True": "'True'",
    "=1+1": "'=1+1'",
    "250mm": "'250mm'",
    "--250": "'--250'",
    "2.5.0": "'2.5.0'",
    "1.250,5": "'1.250,5'",
    "24.5 cm": "'24.5 cm'",
}


@pytest.mark.parametrize(("cell", "shown"), NOT_A_LENGTH.items())
def test_a_length_that_cannot_be_is_named_with_row_column_value_and_limits(
    sheets, cell: str, shown: str
) -> None:
    said = sheets.faults(sheets.of({}, {"foot_length_mm": cell}))
    assert said == [f"row 3: foot_length_mm is {shown}: {LENGTH}"]


@pytest.mark.parametrize("cell", ["250", " 250 ", "250.0", "+250", "2.5e2", "250,0", "250,"])
def test_a_length_may_be_written_in_any_usual_way(sheets, cell: str) -> None:
    assert sheets.faults(sheets.of({"foot_length_mm": cell})) == []


@pytest.mark.parametrize(
    ("cell", "shown"),
    [
        ("3.5", "3.5"),
        ("-3", "-3"),
        ("201", "201"),
        ("x", "'x'"),
        ("3;4", "'3;4'"),
        ("True", "'True'"),
        ("=1+1", "'=1+1'"),
        ("10**30", "'10**30'"),
        ("1" + "0" * 29, "1e+29"),
        ("1" + "0" * 30, "1e+30"),
        ("9" * 400, "inf"),
        ("", None),
    ],
)
def test_a_count_of_rounds_is_a_whole_number_within_limits(
    sheets, cell: str, shown: str | None
) -> None:
    given = "is missing" if shown is None else f"is {shown}"
    (said,) = sheets.faults(sheets.of({"fast_decrease_rounds": cell}))
    assert said == f"row 2: fast_decrease_rounds {given}: {ROUNDS}"


@pytest.mark.parametrize(("cell", "shown"), [("3", "3"), ("-3", "-3"), ("0.5", "0.5"), ("", None)])
def test_a_fit_score_is_one_of_five(sheets, cell: str, shown: str | None) -> None:
    given = "is missing" if shown is None else f"is {shown}"
    assert sheets.faults(sheets.of({"fit_score": cell})) == [f"row 2: fit_score {given}: {SCORE}"]


def test_every_score_of_the_scale_is_taken(sheets) -> None:
    assert sheets.faults(sheets.of(*({"fit_score": score} for score in range(-2, 3)))) == []


def test_a_column_of_truth_values_is_no_column_of_numbers(sheets) -> None:
    said = sheets.faults(sheets.of({"yarn_weight": "True"}, {"yarn_weight": "False"}))
    assert [line.partition(":")[0] for line in said] == ["row 2", "row 3"]
    assert "yarn_weight is 'True': it must be a whole number from 0 to 7" in said[0]


def test_every_wrong_cell_of_a_row_is_named(sheets) -> None:
    said = sheets.faults(sheets.of({"foot_length_mm": -1, "heel_stitches": 7, "fit_score": "x"}))
    assert [line.split()[2] for line in said] == ["foot_length_mm", "heel_stitches", "fit_score"]


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        (
            {"heel_stitches": 16, "slow_decrease_rounds": 12, "medium_decrease_rounds": 0},
            "heel_stitches is 16: 15 decrease rounds of 4 leave too little to close; these "
            "stitches allow at most 3 decrease rounds in all",
        ),
        (
            {"heel_stitches": 63, "plain_rounds": 0},
            "heel_stitches is 63: it is no multiple of 4; use 60 or 64, or work a plain round in "
            "which the odd 3 can be decreased",
        ),
        (
            {"heel_stitches": 8, "decreases_per_round": 16},
            "decreases_per_round is 16: 8 heel stitches allow at most 8 decreases per round",
        ),
        ({"size": "S"}, "size is 'S': name the design it is a size of as well"),
    ],
)
def test_a_sock_that_cannot_be_is_explained(sheets, changed, expected: str) -> None:
    assert sheets.faults(sheets.of({}, changed)) == [f"row 3: {expected}"]


@pytest.mark.parametrize("cell", ["", "4"])
def test_decreases_per_round_are_4_where_the_cell_is_empty(sheets, cell: str) -> None:
    said = sheets.faults(sheets.of({"decreases_per_round": 8}, {"decreases_per_round": cell}))
    assert [line[:5] for line in said] == ["row 2"]  # 11 decrease rounds fit 64 stitches by 4


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        (
            {"foot_length_mm": 98, "foot_circumference_mm": 228},
            "foot_length_mm is 98: looks like inches given as centimetres: 98 would be 249 mm",
        ),
        (
            {"foot_length_mm": 25},
            f"foot_length_mm is 25: {LENGTH}; looks like centimetres given as millimetres: 25 "
            "would be 250 mm",
        ),
        (
            {"heel_diagonal_mm": 12.4},
            "heel_diagonal_mm is 12.4: it must be a number from 80 to 520 (mm); looks like inches "
            "given as millimetres: 12.4 would be 315 mm",
        ),
    ],
)
def test_a_slip_of_unit_is_named_with_what_it_would_give(sheets, changed, expected: str) -> None:
    assert sheets.faults(sheets.of({}, {}, changed, {})) == [f"row 4: {expected}"]


@pytest.mark.parametrize(
    "cell", ["2024-02-30", "01/02/2024", "20240203", "2024-2", "yesterday", "2024-02-03T00:00"]
)
def test_a_day_is_written_as_iso_8601_has_it(sheets, cell: str) -> None:
    said = sheets.faults(sheets.of({"knitted_on": "2024-02-29"}, {"knitted_on": cell}))
    assert said == [f"row 3: knitted_on is {cell!r}: a day as YYYY-MM-DD"]


def test_a_sock_was_not_finished_in_the_future(sheets) -> None:
    today = now().date()
    later = (today + timedelta(days=3)).isoformat()
    said = sheets.faults(sheets.of({"knitted_on": today.isoformat()}, {"knitted_on": later}))
    assert said == [f"row 3: knitted_on is {later!r}: it must not be in the future"]


@pytest.mark.parametrize(
    "cell", ["", "   ", "x" * 81, "a\x07b", "a\x00b", "a\nb", "a\tb", "\x9b1m"]
)
def test_a_reporter_has_a_short_name_in_one_line(sheets, cell: str) -> None:
    (said,) = sheets.faults(sheets.of({"reporter": cell}))
    assert said.startswith("row 2: reporter is ")
    assert said.endswith(": text of 1 to 80 characters in one line")
    assert len(said) < 130


@pytest.mark.parametrize("name", ["NaN", "None", "007", "1.0", "True", "Zoë", "'x", "x" * 80])
def test_a_reporter_may_be_called_anything(sheets, name: str) -> None:
    assert sheets.faults(sheets.of({"reporter": name})) == []


@pytest.mark.parametrize("note", ["x" * 2001, "x" * 200_000, "a\x00b", "a\x1bb"])
def test_a_note_is_of_2000_characters_at_most_and_has_no_control_characters(
    sheets, note: str
) -> None:
    (said,) = sheets.faults(sheets.of({"notes": note}))
    assert said.startswith("row 2: notes is ")
    assert said.endswith(": text of 1 to 2000 characters")
    assert len(said) < 110


@pytest.mark.parametrize("cell", ["-1", "2.5", "x", "10001"])
def test_washes_are_counted_in_whole_numbers(sheets, cell: str) -> None:
    said = sheets.faults(sheets.of({"times_washed": 3}, {"times_washed": cell}, {}))
    assert len(said) == 1
    assert said[0].startswith("row 3: times_washed is ")
    assert said[0].endswith("it must be a whole number from 0 to 10000")
