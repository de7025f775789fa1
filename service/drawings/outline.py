"""The side view of a foot that every drawing stands on, toes to the right.

Coordinates of the pattern are shares of the foot length, y upwards from the sole. Its shape is
drawn by eye; its length is to scale, and its heights follow the heel diagonal and the foot
circumference, as far as a side view can show what a tape goes around.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from models.domain.anthropometry import estimate, pooled
from models.domain.foot import Foot

Point = tuple[float, float]

WIDTH = 340.0
MARGIN = 14.0
LENGTH = WIDTH - 2 * MARGIN
"""Units from heel to toe."""

LEG_TOP = 0.74

HEEL_TIP: Point = (0.03, 0.0325)
ANKLE_BEND: Point = (0.425, 0.385)
"""Where the tape of the heel diagonal turns at the back of the heel and in front of the ankle."""

_FOREFOOT = 0.6
"""Share of the length beyond which heights follow the foot circumference."""

_START: Point = (0.07, LEG_TOP)
_CURVES: Sequence[tuple[Point, Point, Point]] = (
    ((0.07, 0.62), (0.09, 0.54), (0.085, 0.42)),
    ((0.08, 0.33), (0.0, 0.27), (0.0, 0.14)),
    ((0.0, 0.04), (0.04, 0.0), (0.12, 0.0)),
    ((0.25, 0.0), (0.30, 0.035), (0.43, 0.035)),
    ((0.55, 0.035), (0.60, 0.0), (0.72, 0.0)),
    ((0.80, 0.0), (0.88, 0.0), (0.93, 0.0)),
    ((0.98, 0.0), (1.0, 0.02), (1.0, 0.05)),
    ((1.0, 0.09), (0.97, 0.105), (0.92, 0.11)),
    ((0.82, 0.13), (0.78, 0.15), (0.72, 0.18)),
    ((0.62, 0.23), (0.52, 0.29), (0.45, 0.36)),
    ((0.39, 0.42), (0.375, 0.50), (0.37, 0.60)),
    ((0.367, 0.65), (0.37, 0.70), (0.375, LEG_TOP)),
)


@dataclass(frozen=True)
class Outline:
    """A foot's side view in units of the drawing, y downwards; `ground` is the sole's y."""

    path: str
    ground: float
    heel_height: float
    ball_height: float

    def at(self, point: Point) -> Point:
        """Return where a point of the pattern lies in the drawing."""
        x, y = point
        height = self.ball_height if x >= _FOREFOOT else self.heel_height
        return MARGIN + x * LENGTH, self.ground - y * LENGTH * height

    @property
    def heel_tip(self) -> Point:
        """The back of the heel, where its diagonal and its close lie."""
        return self.at(HEEL_TIP)

    @property
    def ankle_bend(self) -> Point:
        """The front of the ankle bend."""
        return self.at(ANKLE_BEND)


def outline(foot: Foot, top: float = 8.0) -> Outline:
    """Return the side view of a foot; what was not measured is drawn as estimated."""
    heel, ball = (_height(foot, name) for name in ("heel_diagonal_mm", "foot_circumference_mm"))
    ground = top + LEG_TOP * LENGTH * heel
    empty = Outline("", ground, heel, ball)
    start, *rest = [_START, *(point for curve in _CURVES for point in curve)]
    drawn = " ".join(shown(empty.at(point)) for point in rest)
    return Outline(f"M{shown(empty.at(start))} C{drawn}", ground, heel, ball)


def shown(point: Point) -> str:
    """Return a point as SVG writes it."""
    return f"{point[0]:.1f},{point[1]:.1f}"


def between(start: Point, end: Point, share: float) -> Point:
    """Return the point at a share of the way from one point to another."""
    return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])


def _height(foot: Foot, name: str) -> float:
    """Return how much taller than the survey's mean foot of this length a part is drawn."""
    means = pooled()[0]
    usual = means[name] / means["foot_length_mm"]
    return estimate(name, foot).value / foot["foot_length_mm"] / usual
