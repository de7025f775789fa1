"""Lengths on a foot: read where there is no doubt, asked back otherwise."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.domain.anthropometry import pooled
from models.domain.foot import MEASUREMENTS, Measurement
from models.domain.plausibility import usual
from service.pages.lengths import Entry, Reading, read_length

LENGTH, BALL, DIAGONAL, ANKLE = MEASUREMENTS
MM = {"cm": 10, "in": 25.4}  # UCUM: [in_i] = 2.54 cm


def test_usual_lengths_are_read_in_the_unit_of_the_form() -> None:
    assert read_length("24,5", "cm", LENGTH) == Entry(245)
    assert read_length("9 1/2", "in", LENGTH) == Entry(pytest.approx(241.3))


def test_a_unit_that_is_typed_wins_over_the_form_s() -> None:
    assert read_length("24.5 cm", "in", LENGTH) == Entry(245)
    assert read_length("245mm", "in", LENGTH) == Entry(245)
    assert read_length('9½"', "cm", LENGTH) == Entry(pytest.approx(241.3))


@pytest.mark.parametrize(
    ("text", "unit", "meant"),
    [
        ("245", "cm", "245 mm"),
        ("9.5", "cm", "9.5 inches"),
        ("2,45", "cm", "24.5 cm"),
        ("24.5", "in", "24.5 cm"),
        ("245", "in", "245 mm"),
        ("95", "in", "9.5 inches"),
    ],
)
def test_a_slip_is_asked_back_with_what_was_likely_meant(text: str, unit: str, meant: str) -> None:
    entry = read_length(text, unit, LENGTH)
    assert entry.value is None
    assert entry.readings[0].text == meant
    assert f"“{text}” reads as" in entry.problem


def test_what_was_typed_is_among_the_readings_where_it_can_be() -> None:
    assert [one.text for one in read_length("9.5", "cm", LENGTH).readings] == [
        "9.5 inches",
        "9.5 cm",
    ]
    assert read_length("9.5 cm", "cm", LENGTH) == Entry(95)


def test_both_readings_of_a_separator_are_named() -> None:
    entry = read_length("1,238", "cm", LENGTH)
    assert (entry.value, entry.readings) == (None, ())
    assert "1.238 cm or 1238 cm" in entry.problem
    assert "from 6 to 40 cm" in entry.problem


def test_a_separator_is_no_doubt_where_only_one_reading_is_a_foot() -> None:
    assert read_length("24,500", "cm", LENGTH) == Entry(245)


def test_a_child_s_foot_is_not_asked_back() -> None:
    assert read_length("15", "cm", LENGTH) == Entry(150)


def test_only_what_may_be_left_out_can_be_empty() -> None:
    assert [read_length(" ", "cm", m).problem == "" for m in MEASUREMENTS] == [
        not m.required for m in MEASUREMENTS
    ]


def test_a_button_says_centimetres_too() -> None:
    assert Reading("9.5 inches", 241.3).words == "9.5 inches (24.1 cm)"
    assert Reading("24.5 cm", 245).words == "24.5 cm"


@given(st.sampled_from(MEASUREMENTS), st.sampled_from(["cm", "in"]), st.floats(-3.9, 3.9))
def test_every_usual_measurement_is_read_as_typed(
    measurement: Measurement, unit: str, score: float
) -> None:
    means, covariances = pooled()
    name = measurement.name
    value = means[name] + score * covariances[name][name] ** 0.5
    typed = f"{value / MM[unit]:.2f}"
    entry = read_length(typed, unit, measurement)
    if usual(name, float(typed) * MM[unit]):
        assert entry.value == pytest.approx(float(typed) * MM[unit])


@given(st.text(max_size=50), st.sampled_from(["cm", "in"]))
def test_every_reading_can_be_sent_back_as_it_is(text: str, unit: str) -> None:
    entry = read_length(text, unit, DIAGONAL)
    assert (entry.value is None) or not entry.problem
    for reading in entry.readings:
        again = read_length(reading.text, unit, DIAGONAL)
        assert again.value == pytest.approx(reading.value_mm)
