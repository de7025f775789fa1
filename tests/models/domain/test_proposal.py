"""Stitches that are proposed where a knitter has no design."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.domain.foot import MEASUREMENTS
from models.domain.gauge import Gauge
from models.domain.proposal import proposed
from models.domain.quantities import GAUGE

BALL = MEASUREMENTS[1]
STITCHES, ROUNDS = (st.floats(quantity.low, quantity.high) for quantity in GAUGE)


@given(st.floats(BALL.low, BALL.high), STITCHES, ROUNDS)
def test_every_possible_foot_and_gauge_gets_stitches_that_come_out(
    ball: float, stitches: float, rounds: float
) -> None:
    policy = proposed({"foot_length_mm": 250, BALL.name: ball}, Gauge(stitches, rounds))
    assert policy.schedule(0).closing_stitches == policy.closing_stitches
    assert policy.medium_decrease_rounds <= policy.total_decrease_rounds


@pytest.mark.parametrize(("ball", "stitches"), [(230, 30), (215, 34), (250, 24), (240, 18)])
def test_the_sock_is_a_tenth_smaller_than_the_foot(ball: float, stitches: float) -> None:
    # Common practice, no source: 5 to 15 % of negative ease around the foot.
    policy = proposed({"foot_length_mm": 250, BALL.name: ball}, Gauge(stitches, 42))
    around = policy.heel_stitches * 100 / stitches
    assert -0.15 <= around / ball - 1 <= -0.05
    assert policy.heel_stitches % 4 == 0
