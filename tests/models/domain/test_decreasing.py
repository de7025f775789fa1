import re

import pytest

from models.domain.decreasing import decrease_round, even_out


def test_four_decreases_are_two_on_each_edge_beside_the_corners():
    words = decrease_round(4, 16)
    assert words.count("knit 2 together") == 1
    assert words.count("through the back") == 1
    assert "on each edge" in words
    assert re.search(r"Each quarter loses 1 stitch, 4 in all", words)


def test_the_stitches_kept_before_the_corner_are_those_then_worked():
    kept, together, last = re.search(
        r"knit to (\d) stitches before the corner, knit (\d) together, knit (\d)",
        decrease_round(4, 16),
    ).groups()
    assert int(kept) == int(together) + int(last)


@pytest.mark.parametrize(("closing", "said"), [(4, True), (6, True), (8, False), (16, False)])
def test_a_short_edge_is_spoken_of_only_where_there_will_be_one(closing, said):
    # The last decrease round starts from edges of closing / 2 + 2 stitches; 6 are needed for it.
    assert ("only 4 stitches" in decrease_round(4, closing)) is said


@pytest.mark.parametrize("each", [2, 3, 5, 6, 8, 16])
def test_another_number_of_decreases_is_made_in_as_many_equal_parts(each):
    words = decrease_round(each, 16)
    assert f"{each} equal parts" in words
    assert f"{each} stitches fewer in all" in words
    assert "Each quarter loses" not in words


@pytest.mark.parametrize(
    ("remainder", "stitches", "each", "left"), [(2, 62, 4, 60), (5, 65, 6, 60), (1, 41, 4, 40)]
)
def test_evening_out_says_how_often_and_what_is_left(remainder, stitches, each, left):
    words = even_out(remainder, stitches, each)
    assert re.search(rf"knit 2 together {remainder} times?\b", words)
    assert f"{left} stitches are left" in words


def test_a_remainder_is_lost_where_the_decreases_say() -> None:
    paired, spread = even_out(2, 62, 4), even_out(2, 62, 5)
    assert ("larger quarter" in paired, "spread evenly" in paired) == (True, False)
    assert ("larger quarter" in spread, "spread evenly" in spread) == (False, True)
    assert "so that 60 stitches are left" in paired
