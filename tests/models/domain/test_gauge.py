import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.domain.errors import Invalid
from models.domain.gauge import USUAL_ROUNDS_PER_STITCH, Gauge, doubts_about_gauge


def test_one_stitch_and_one_round_are_100_mm_shared_among_10_cm():
    gauge = Gauge(32, 44)
    assert gauge.stitch_mm == 3.125
    # 2.27 mm at 44 rounds: arithmetic.
    assert gauge.round_mm == pytest.approx(2.27, abs=0.005)


def test_the_relaxed_loop_shape_is_usual():
    # Munden's loop-shape constants Kc 5.5 and Kw 4.2 (Knapton et al. 1968, from memory; the pair
    # is read in a GATE Textile 2015 question): rounds per stitch = 5.5 / 4.2 = 1.3095.
    low, high = USUAL_ROUNDS_PER_STITCH
    assert low < 5.5 / 4.2 < high


@pytest.mark.parametrize(("stitches", "rounds"), [(30, 39.3), (32, 41.9)])
def test_loops_of_munden_give_a_usual_gauge(stitches, rounds):
    # W = Kw / l and C = Kc / l with Kw 4.2, Kc 5.5, l in cm.
    loop_cm = 4.2 / (stitches / 10)
    assert 10 * 5.5 / loop_cm == pytest.approx(rounds, abs=0.05)
    assert doubts_about_gauge(Gauge(stitches, 10 * 5.5 / loop_cm)) == []


@pytest.mark.parametrize(("stitches", "rounds"), [(28, 36), (30, 42), (28, 35), (20, 29)])
def test_gauges_of_sock_yarn_labels_are_usual(stitches, rounds):
    # Common practice, no source: labels run from 1.25 to 1.45 rounds to a stitch.
    assert doubts_about_gauge(Gauge(stitches, rounds)) == []


@pytest.mark.parametrize(("stitches", "rounds"), [(42, 30), (36, 28), (30, 84), (30, 20)])
def test_swapped_or_doubled_counts_are_doubted_and_still_usable(stitches, rounds):
    (doubt,) = doubts_about_gauge(Gauge(stitches, rounds))
    assert (doubt.field, doubt.value) == ("rounds_per_10cm", rounds)
    assert "1 to 1.8 rounds for each stitch" in doubt.wanted


@pytest.mark.parametrize("bad", [0, -30, math.nan, math.inf, 3.9, 10**30, "30", None, True])
def test_an_impossible_gauge_is_refused_by_name(bad):
    with pytest.raises(Invalid) as stitches:
        Gauge(bad, 42)
    assert [fault.field for fault in stitches.value.faults] == ["stitches_per_10cm"]
    with pytest.raises(Invalid) as rounds:
        Gauge(30, bad)
    assert [fault.field for fault in rounds.value.faults] == ["rounds_per_10cm"]


def test_both_wrong_numbers_are_named_at_once():
    with pytest.raises(Invalid) as raised:
        Gauge(-1, 1000)
    assert [fault.field for fault in raised.value.faults] == [
        "stitches_per_10cm",
        "rounds_per_10cm",
    ]


@given(st.floats(4, 80), st.floats(4, 120))
@settings(deadline=None)
def test_a_gauge_counts_back_to_itself(stitches, rounds):
    gauge = Gauge(stitches, rounds)
    assert stitches * gauge.stitch_mm == pytest.approx(100)
    assert rounds * gauge.round_mm == pytest.approx(100)
