"""Drawings of what a group knows: scores by depth, agreement, coverage."""

from __future__ import annotations

import pytest

from models.learning.needed import Z_80
from service.drawings.agreement import agreement
from service.drawings.coverage import LABELS, THIN, coverage
from service.drawings.scores import LEFT, RIGHT, ROOM, TOP, WIDTH, scores

GROUPS = [
    {"at": -10.0, "value": -1.0, "standard_error": 0.1},
    {"at": 10.0, "value": 1.9, "standard_error": 0.5},
]
CURVE = [
    {"at": mm, "value": mm / 25, "low": mm / 25 - 0.2, "high": mm / 25 + 0.2}
    for mm in (-25.0, 0.0, 25.0)
]
MIDDLE = LEFT + (WIDTH - LEFT - RIGHT) / 2


def test_groups_lie_at_their_depth_and_score_with_an_80_percent_interval() -> None:
    one, other = scores(GROUPS, CURVE, []).groups
    assert one.at == pytest.approx((MIDDLE - (MIDDLE - LEFT) * 10 / 25, TOP + ROOM * 3 / 4))
    low, high = one.ends
    assert low - high == pytest.approx(2 * Z_80 * 0.1 * ROOM / 4)
    assert other.ends[1] == TOP, "no interval goes beyond the scale"


def test_a_mean_in_whole_scores_has_no_interval() -> None:
    (one,) = scores([{"at": 7.5, "value": 1, "standard_error": None}], [], []).groups
    assert one.at[1] == pytest.approx(TOP + ROOM / 4)
    assert one.ends is None


def test_the_curve_goes_through_its_points_inside_its_band() -> None:
    drawn = scores(GROUPS, CURVE, [])
    assert drawn.curve.split()[1] == f"{MIDDLE:.1f},{TOP + ROOM / 2:.1f}"
    assert len(drawn.band.split()) == 6
    assert drawn.ideal == pytest.approx(MIDDLE)


@pytest.mark.parametrize(("mm", "reach"), [(0, 25), (-31, 35), (140, 140)])
def test_own_socks_are_drawn_however_far_out_and_the_scale_makes_room(
    mm: float, reach: int
) -> None:
    drawn = scores([], [], [{"excess_mm": mm, "fit_score": 2}])
    assert drawn.reach == reach
    ((x, y),) = drawn.own
    assert LEFT <= x <= drawn.right
    assert y == TOP
    ticks = [depth for depth, _ in drawn.depths]
    assert ticks == [-depth for depth in reversed(ticks)]
    assert 3 <= len(ticks) <= 7


def test_what_agrees_lies_on_the_slanting_line_and_areas_are_as_reports() -> None:
    drawn = agreement([(0.25, 0.25, 100), (0.75, 0.5, 49)])
    first, second = drawn.circles
    assert first.x - drawn.left == pytest.approx(drawn.floor - first.y)
    assert second.y == pytest.approx(drawn.top + drawn.side / 2)
    assert (second.radius / first.radius) ** 2 == pytest.approx(0.49)
    assert agreement([]).circles == ()


def test_bars_are_as_long_as_people_are_many_and_the_thin_ones_are_told_apart() -> None:
    rows = coverage([{"label": "a", "people": 40}, {"label": "b", "people": THIN - 1}]).rows
    assert rows[1].width / rows[0].width == pytest.approx((THIN - 1) / 40)
    assert [row.thin for row in rows] == [False, True]
    assert rows[0].end == pytest.approx(LABELS + rows[0].width)
    assert coverage([]).height == 0
