import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.domain.gauge import Gauge
from models.domain.placement import LENGTH_EASE, waste_yarn


def test_a_foot_of_250_mm_with_a_heel_of_60_mm_is_knitted_for_177_5_mm():
    # By hand: 250 * 0.95 = 237.5; less 60 is 177.5 mm; at 42 rounds to 10 cm 74.55 rounds.
    # Five per cent shorter than the foot is common practice, no source.
    placement = waste_yarn(250, 60, Gauge(30, 42), 32)
    assert placement.toe_to_waste_yarn_mm == pytest.approx(177.5)
    assert placement.toe_to_waste_yarn_rounds == 75


@pytest.mark.parametrize("way", ["toe_up", "cuff_down"])
def test_both_ways_of_knitting_say_the_length_and_the_rounds(way):
    words = getattr(waste_yarn(250, 62.5, Gauge(30, 40), 32), way)
    # By hand: 237.5 - 62.5 = 175 mm, 70 rounds of 2.5 mm; the opening is half of 64 stitches; 5 %.
    assert set(re.findall(r"\d+", words)) == {"175", "70", "32", "5"}
    assert "waste yarn" in words


@pytest.mark.parametrize("way", ["toe_up_in", "cuff_down_in"])
def test_who_measures_in_inches_reads_inches_to_a_tenth(way):
    # By hand: 175 mm / 25.4 = 6.89 in.
    words = getattr(waste_yarn(250, 62.5, Gauge(30, 40), 32), way)("in")
    assert " 6.9 in (about 70 rounds)" in words
    assert " mm" not in words


@given(st.floats(150, 320), st.floats(20, 90), st.floats(20, 60))
@settings(deadline=None)
def test_toe_foot_and_heel_make_the_length_of_the_sock(length, depth, rounds):
    placement = waste_yarn(length, depth, Gauge(30, rounds), 32)
    assert placement.toe_to_waste_yarn_mm + depth == pytest.approx(length * (1 + LENGTH_EASE))
    by_rounds = placement.toe_to_waste_yarn_rounds * 100 / rounds
    assert abs(by_rounds - placement.toe_to_waste_yarn_mm) <= 50 / rounds + 1e-9


@given(st.floats(150, 320), st.floats(20, 80), st.floats(1, 10))
@settings(deadline=None)
def test_a_deeper_heel_starts_nearer_the_toe(length, depth, deeper):
    gauge = Gauge(30, 42)
    nearer = waste_yarn(length, depth + deeper, gauge, 32).toe_to_waste_yarn_mm
    assert nearer < waste_yarn(length, depth, gauge, 32).toe_to_waste_yarn_mm


@pytest.mark.parametrize("depth", [95, 100, 4000])
def test_a_heel_as_long_as_the_foot_leaves_nowhere_for_the_waste_yarn(depth):
    assert waste_yarn(100, depth, Gauge(30, 42), 32) is None
