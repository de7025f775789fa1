import re

import pytest

from models.domain.closing import CLOSINGS, USUAL_CLOSING


@pytest.mark.parametrize("close", CLOSINGS)
@pytest.mark.parametrize("stitches", [2, 3, 4, 7, 16, 20, 33])
def test_every_way_to_close_says_how_many_stitches_are_closed(close, stitches):
    numbers = {int(number) for number in re.findall(r"\d+", CLOSINGS[close](stitches))}
    even = stitches - stitches % 2
    assert numbers & ({even, stitches} if close == "graft" else {stitches})


@pytest.mark.parametrize(("stitches", "on_each"), [(16, 8), (20, 10), (4, 2), (2, 1)])
def test_a_graft_has_half_of_the_stitches_on_each_needle(stitches, on_each):
    # 8 + 8 on a sock of 48 stitches is common practice, no source.
    words = CLOSINGS["graft"](stitches)
    assert re.search(rf"\b{stitches} stitches on two needles, {on_each} on each", words)


@pytest.mark.parametrize(("stitches", "left", "on_each"), [(3, 2, 1), (15, 14, 7)])
def test_an_odd_number_loses_one_stitch_before_the_graft(stitches, left, on_each):
    words = CLOSINGS["graft"](stitches)
    assert re.search(rf"2 together once .*\b{left} stitches .* {on_each} on each", words)


def test_the_usual_close_is_one_of_the_ways():
    assert USUAL_CLOSING in CLOSINGS
    assert CLOSINGS["gather"](8) != CLOSINGS["graft"](8)
