"""Numbers as people type them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.pages.typed import LONGEST, Typed, typed

TENTHS = st.integers(1, 9999).map(lambda tenths: tenths / 10)


@given(TENTHS, st.sampled_from(["", " ", "  "]), st.sampled_from(["", "cm", "CM", "mm", "in"]))
def test_point_comma_spaces_and_unit_make_no_difference(value: float, gap: str, unit: str) -> None:
    point = f"{gap}{value}{gap}{unit}{gap}"
    expected = Typed((value,), unit.lower() or None)
    assert typed(point) == typed(point.replace(".", ",")) == expected


@given(st.integers(0, 99), st.integers(1, 15), st.sampled_from([2, 4, 8, 16]))
def test_mixed_fractions_are_exact(whole: int, part: int, of: int) -> None:
    value = float(whole + Fraction(part, of))
    assert typed(f"{whole} {part}/{of} in") == Typed((value,), "in")
    assert typed(f'{whole}-{part}/{of}"') == Typed((value,), "in")


@pytest.mark.parametrize(
    "text",
    [
        "9½",
        "9 ½",
        "9 1/2",
        "9-1/2",
        "9.5",
        "9,5",
        "9\u00a01/2",
        "9 1\N{FRACTION SLASH}2",
        "\uff19.5",  # a full-width digit
    ],
)
@pytest.mark.parametrize(
    "unit", ["in", "inch", "inches", "in.", '"', "''", "\N{DOUBLE PRIME}", "”"]
)
def test_nine_and_a_half_inches_are_read_alike(text: str, unit: str) -> None:
    assert typed(text + unit) == typed(f"{text} {unit}") == Typed((9.5,), "in")


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("1,238", (1.238, 1238.0)),
        ("1.238", (1.238, 1238.0)),
        ("12,500", (12.5, 12500.0)),
        ("0,238", (0.238,)),
        ("1,23", (1.23,)),
        ("1,2384", (1.2384,)),
        ("1238", (1238.0,)),
    ],
)
def test_a_separator_before_three_digits_may_group_thousands(
    text: str, numbers: tuple[float, ...]
) -> None:
    assert typed(text) == Typed(numbers)


@pytest.mark.parametrize(
    "text",
    ["", " ", "cm", "about 24", "24-25", "-24", "1e3", "nan", "inf", "24 5", "2.4.5", "1/0", "9'6"],
)
def test_what_is_no_single_number_is_refused(text: str) -> None:
    assert typed(text) is None


@given(st.text())
def test_anything_can_be_typed(text: str) -> None:
    found = typed(text)
    assert found is None or (len(text) <= LONGEST and all(number >= 0 for number in found.numbers))
