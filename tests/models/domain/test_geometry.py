import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.domain.geometry import (
    IDEAL_DIAGONAL_EASE,
    across_mm,
    diagonal_ease,
    girth_mm,
    ideal_depth_mm,
    ideal_depth_sd_mm,
)

DIAGONALS = st.floats(150, 450)
EASES = st.floats(-0.3, 0.1)


def test_64_stitches_closed_at_16_lie_133_mm_across_at_30_stitches():
    # By hand: 32 + 8 = 40 stitches of 100/30 mm.
    assert across_mm(64, 16, 30) == pytest.approx(133.333, abs=0.001)


def test_a_heel_of_60_mm_stretches_by_18_per_cent_around_310_mm():
    # By hand: 133.333 + 120 = 253.333; 253.333 / 310 = 0.8172.
    girth = girth_mm(across_mm(64, 16, 30), 60)
    assert girth == pytest.approx(253.333, abs=0.001)
    assert diagonal_ease(girth, 310) == pytest.approx(-0.1828, abs=0.0001)


def test_a_heel_for_310_mm_is_73_mm_deep():
    # By hand: (310 * 0.90 - 133.333) / 2 = 72.83.
    assert ideal_depth_mm(310, across_mm(64, 16, 30)) == pytest.approx(72.83, abs=0.005)


def test_the_usual_ease_is_ten_per_cent_smaller_than_the_foot():
    # Common practice, no source: 230 mm around with -10 % is 207 mm of sock, stretched by 11.1 %.
    assert pytest.approx(-0.10) == IDEAL_DIAGONAL_EASE
    assert diagonal_ease(207, 230) == pytest.approx(IDEAL_DIAGONAL_EASE)
    assert pytest.approx(0.111, abs=0.0005) == 230 / 207 - 1


def test_an_estimated_diagonal_of_sd_8_2_leaves_3_7_mm_of_doubt_in_the_depth():
    # By hand: 8.2 * 0.90 / 2 = 3.69.
    assert ideal_depth_sd_mm(8.2) == pytest.approx(3.69)


@given(DIAGONALS, st.floats(50, 300), EASES)
@settings(deadline=None)
def test_a_heel_of_the_ideal_depth_has_the_wanted_ease(diagonal, across, ease):
    depth = ideal_depth_mm(diagonal, across, ease)
    assert diagonal_ease(girth_mm(across, depth), diagonal) == pytest.approx(ease, abs=1e-9)


@given(DIAGONALS, st.floats(50, 300), st.floats(1, 40))
@settings(deadline=None)
def test_a_larger_diagonal_asks_for_a_deeper_heel(diagonal, across, more):
    assert ideal_depth_mm(diagonal + more, across) > ideal_depth_mm(diagonal, across)


@given(DIAGONALS, st.floats(50, 300), st.floats(0, 30), EASES)
@settings(deadline=None)
def test_the_sd_of_the_depth_is_what_one_sd_of_diagonal_moves_it(diagonal, across, sd, ease):
    moved = ideal_depth_mm(diagonal + sd, across, ease) - ideal_depth_mm(diagonal, across, ease)
    assert ideal_depth_sd_mm(sd, ease) == pytest.approx(moved, abs=1e-9)


def test_arrays_go_through_as_numbers_do():
    heels, diagonals = np.array([56, 64, 72]), np.array([290.0, 310.0, 340.0])
    across = across_mm(heels, 16, 30)
    depths = ideal_depth_mm(diagonals, across)
    one_by_one = [
        ideal_depth_mm(float(d), across_mm(int(h), 16, 30))
        for h, d in zip(heels, diagonals, strict=True)
    ]
    assert depths == pytest.approx(one_by_one)
    assert diagonal_ease(girth_mm(across, depths), diagonals) == pytest.approx([-0.1] * 3)
