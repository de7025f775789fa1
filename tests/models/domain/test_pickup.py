import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.domain.pickup import PickUp

HEELS = st.integers(8, 400)


@pytest.mark.parametrize(("row", "lower", "upper"), [(24, 24, 23), (20, 20, 19), (32, 32, 31)])
def test_a_row_of_n_stitches_leaves_2n_minus_1_loops(row, lower, upper):
    # Common practice, no source.
    pick_up = PickUp(2 * row)
    assert (pick_up.lower, pick_up.upper) == (lower, upper)
    assert pick_up.lower + pick_up.upper == 2 * row - 1


@pytest.mark.parametrize(("row", "loops"), [(24, 24 + 23), (40, 40 + 41), (40, 79), (40, 84)])
def test_the_counts_that_knitters_report_are_accepted(row, loops):
    # Common practice, no source: 2n - 1 to 2n + 4.
    pick_up = PickUp(2 * row)
    assert pick_up.fewest <= loops <= pick_up.most


@pytest.mark.parametrize(("row", "loops"), [(24, 46), (40, 78), (40, 85), (40, 0), (40, -1)])
def test_lost_loops_and_too_many_are_not_accepted(row, loops):
    pick_up = PickUp(2 * row)
    assert not pick_up.fewest <= loops <= pick_up.most


def test_40_stitches_are_four_quarters_of_10():
    # Opening of 20 + 20; common practice, no source.
    assert PickUp(40).quarters == (10, 10, 10, 10)


@pytest.mark.parametrize(
    ("heel_stitches", "quarters"),
    [(41, (11, 10, 10, 10)), (42, (11, 10, 11, 10)), (43, (11, 11, 11, 10)), (8, (2, 2, 2, 2))],
)
def test_an_uneven_count_makes_quarters_that_differ_by_one(heel_stitches, quarters):
    # By hand: edges of 21 + 20, 21 + 21, 22 + 21, 4 + 4.
    assert PickUp(heel_stitches).quarters == quarters


@given(HEELS)
@settings(deadline=None)
def test_quarters_and_edges_and_corner_stitches_make_the_heel(heel_stitches):
    pick_up = PickUp(heel_stitches)
    assert sum(pick_up.quarters) == heel_stitches
    assert max(pick_up.quarters) - min(pick_up.quarters) <= 1
    assert pick_up.lower + pick_up.upper + pick_up.from_corners == heel_stitches
    assert pick_up.from_corners in (0, 1)
    assert pick_up.quarters[0] + pick_up.quarters[1] == pick_up.lower


@given(HEELS)
@settings(deadline=None)
def test_as_many_quarters_are_larger_as_there_are_stitches_to_even_out(heel_stitches):
    quarters = PickUp(heel_stitches).quarters
    assert sum(one - heel_stitches // 4 for one in quarters) == heel_stitches % 4


@given(HEELS)
@settings(deadline=None)
def test_the_words_give_the_loops_of_each_edge_and_one_more_and_one_fewer(heel_stitches):
    pick_up = PickUp(heel_stitches)
    expect, check, corners, quarters = pick_up.paragraphs()
    below, above = pick_up.lower, pick_up.upper
    assert re.findall(r"\d+", expect) == [str(below), str(above), str(below + above)]
    counts = [int(number) for number in re.findall(r"\d+", check)]
    assert counts == [below + 1, below - 1, above + 1, above - 1]
    assert "one too many" in check
    assert "one too few" in check
    assert str(heel_stitches) in re.findall(r"\d+", corners)
    assert "hole" in corners
    assert [int(number) for number in re.findall(r"\d+", quarters)] == list(pick_up.quarters)
    assert "marker" in quarters


def test_nothing_is_made_at_the_corners_where_nothing_is_missing() -> None:
    for stitches in range(8, 201):
        words = "\n".join(PickUp(stitches).paragraphs())
        assert "Make 0" not in words
        assert ("Make 1 stitch" in words) == (stitches % 2 == 0)
        assert ("without a stitch from the corners" in words) == (stitches % 2 == 1)
