"""Stitches to begin from where a knitter has no design: proposals, not rules."""

from __future__ import annotations

from models.domain.foot import Foot
from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.domain.quantities import CLOSING_STITCHES, HEEL_STITCHES, USUAL_DECREASES_PER_ROUND

EASE_AROUND = -0.10
"""How much smaller than the foot a sock is knitted around it (common practice, no source)."""

CLOSING_SHARE = 1 / 4
MEDIUM_SHARE = 1 / 3
"""Closing stitches of all heel stitches, and medium decrease rounds of all decrease rounds: 16 and
4 of the usual 64 stitches (common practice, no source)."""


def proposed(foot: Foot, gauge: Gauge) -> Policy:
    """Return heel stitches, closing stitches and medium rounds that would suit a foot.

    >>> policy = proposed({"foot_length_mm": 252, "foot_circumference_mm": 236}, Gauge(30, 42))
    >>> policy.heel_stitches, policy.closing_stitches, policy.medium_decrease_rounds
    (64, 16, 4)

    """
    each = USUAL_DECREASES_PER_ROUND
    around = foot["foot_circumference_mm"] * (1 + EASE_AROUND) / gauge.stitch_mm
    most = int(min(HEEL_STITCHES.high, CLOSING_STITCHES.high / CLOSING_SHARE))
    heel = min(max(_multiple(around), int(HEEL_STITCHES.low)), most)
    closing = max(_multiple(heel * CLOSING_SHARE), each)
    return Policy(heel, closing, int((heel - closing) / each * MEDIUM_SHARE))


def _multiple(stitches: float) -> int:
    """Return the nearest multiple of the usual decreases per round."""
    return round(stitches / USUAL_DECREASES_PER_ROUND) * USUAL_DECREASES_PER_ROUND
