"""Definitions: UCUM essence v2.2 (2024-06-17); second derivation: Pint, a reference library."""

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.domain.units import (
    METRES_PER_YARD,
    MM_PER_UNIT,
    TEX_PER_DENIER,
    denier,
    from_mm,
    metric_count,
    per_10cm,
    tex,
    to_mm,
)

PINT = pint.UnitRegistry()
PINT_NAME = {"mm": "millimeter", "cm": "centimeter", "in": "inch"}
LENGTHS = st.floats(0.01, 10_000)


def test_an_inch_is_25_4_millimetres():
    # UCUM essence v2.2: `[in_i]` = 2.54 cm.
    assert to_mm(1, "in") == 25.4


def test_four_inches_are_not_ten_centimetres():
    # Craft Yarn Council tables count over 4 in, which is 10.16 cm.
    assert to_mm(4, "in") == pytest.approx(101.6)
    assert to_mm(4, "in") != to_mm(10, "cm")


def test_a_label_of_30_stitches_to_4_inches_is_29_5_per_10_cm():
    # Arithmetic from the definition of the inch: 30 * 100 / 101.6.
    assert per_10cm(30, 4, "in") == pytest.approx(29.528, abs=0.001)
    assert per_10cm(30, 10, "cm") == pytest.approx(30)


@pytest.mark.parametrize("unit", sorted(MM_PER_UNIT))
def test_lengths_agree_with_the_reference_library(unit):
    # Pint.
    assert to_mm(7.25, unit) == pytest.approx(PINT.Quantity(7.25, PINT_NAME[unit]).m_as("mm"))


@given(LENGTHS, st.sampled_from(sorted(MM_PER_UNIT)))
@settings(deadline=None)
def test_a_length_comes_back_from_a_round_trip(value, unit):
    assert from_mm(to_mm(value, unit), unit) == pytest.approx(value, rel=1e-12)


@given(st.floats(1, 400), LENGTHS, st.sampled_from(sorted(MM_PER_UNIT)))
@settings(deadline=None)
def test_stitches_counted_over_any_width_give_the_same_gauge(gauge, width, unit):
    counted = gauge * to_mm(width, unit) / 100
    assert per_10cm(counted, width, unit) == pytest.approx(gauge, rel=1e-9)


@pytest.mark.parametrize("unit", ["", "MM", "inch", "ft", "m"])
def test_an_unknown_unit_is_not_guessed(unit):
    with pytest.raises(KeyError):
        to_mm(1, unit)


# Worked from the definitions tex = g/km, 1 tex = 9 den, Nm = m/g (UCUM essence v2.2 and Pint).
@pytest.mark.parametrize(
    ("metres_per_100g", "in_tex"),
    [(350, 285.714), (400, 250), (420, 238.095), (450, 222.222), (200, 500)],
)
def test_tex_is_a_hundred_thousand_over_metres_per_100_g(metres_per_100g, in_tex):
    assert tex(metres_per_100g) == pytest.approx(in_tex, abs=0.0005)


def test_400_m_to_100_g_is_250_tex_2250_denier_and_metric_count_4():
    # UCUM essence v2.2: `tex` = 1 g/km, `[den]` = 1/9 tex; metric count by definition.
    assert (tex(400), denier(400), metric_count(400)) == pytest.approx((250, 2250, 4))
    assert pytest.approx(1 / 9) == TEX_PER_DENIER


def test_400_m_are_437_4_yards():
    # International yard, 0.9144 m.
    assert pytest.approx(437.4, abs=0.05) == 400 / METRES_PER_YARD
    assert pytest.approx(PINT.Quantity(1, "yard").m_as("m")) == METRES_PER_YARD


@given(st.floats(20, 2000))
@settings(deadline=None)
def test_yarn_counts_agree_with_the_reference_library(metres_per_100g):
    # Pint: tex, denier and number_meter.
    yarn = PINT.Quantity(100 / metres_per_100g, "gram / meter")
    assert tex(metres_per_100g) == pytest.approx(yarn.m_as("tex"))
    assert denier(metres_per_100g) == pytest.approx(yarn.m_as("denier"))
    assert metric_count(metres_per_100g) == pytest.approx((1 / yarn).m_as("number_meter"))
    assert tex(metres_per_100g) * metric_count(metres_per_100g) == pytest.approx(1000)
