"""Chances as dots and bars."""

from __future__ import annotations

import pytest

from service.drawings.chances import BAR_ROOM, WIDTH, bars, dots

CURVE = [
    {"slow_decrease_rounds": s, "chance_just_right": chance}
    for s, chance in enumerate([0.1, 0.2, 0.4, 0.3])
]


def test_as_many_dots_are_full_as_the_chance_says() -> None:
    drawn = dots(8, 20)
    assert [dot.full for dot in drawn] == [True] * 8 + [False] * 12
    assert len({(dot.x, dot.y) for dot in drawn}) == 20


def test_bars_are_as_tall_as_their_chances() -> None:
    drawn = bars(CURVE, 2, 1, 3)
    assert [bar.height for bar in drawn.bars] == pytest.approx(
        [BAR_ROOM * share for share in (0.25, 0.5, 1, 0.75)]
    )
    assert [bar.chosen for bar in drawn.bars] == [False, False, True, False]
    assert all(bar.y + bar.height == pytest.approx(drawn.floor) for bar in drawn.bars)


def test_the_bracket_spans_the_range_or_is_left_out() -> None:
    whole = bars(CURVE, 2, 1, 3)
    assert whole.range == pytest.approx((whole.bars[1].x, whole.bars[3].x + whole.bars[3].width))
    assert bars(CURVE, 2, 1, 4).range is None


@pytest.mark.parametrize("count", [1, 2, 13, 40, 100])
def test_many_bars_stay_inside_and_the_chosen_one_is_named(count: int) -> None:
    curve = [{"slow_decrease_rounds": s, "chance_just_right": 0.01} for s in range(count)]
    drawn = bars(curve, count - 1, 0, 0).bars
    assert drawn[0].x >= 0
    assert drawn[-1].x + drawn[-1].width <= WIDTH
    assert drawn[-1].labelled
    assert sum(bar.labelled for bar in drawn) <= 16


def test_chances_of_nothing_are_drawn_as_nothing() -> None:
    assert (
        bars([{"slow_decrease_rounds": 0, "chance_just_right": 0.0}], 0, 0, 0).bars[0].height == 0
    )
