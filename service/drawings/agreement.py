"""Chances that were stated against shares that came: on the line through the corners they agree."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import sqrt

SIDE, LEFT, TOP = 230.0, 48.0, 12.0
_LARGEST, _SMALLEST = 11.0, 4.0
"""Radii of the circles, by the share of all reports that each is of."""


@dataclass(frozen=True)
class Circle:
    """One band of stated chances; areas are as the numbers of reports."""

    x: float
    y: float
    radius: float


@dataclass(frozen=True)
class Agreement:
    """The picture, in units of the drawing."""

    circles: tuple[Circle, ...]

    side = SIDE
    left = LEFT
    top = TOP
    floor = TOP + SIDE
    width = LEFT + SIDE + 14
    height = TOP + SIDE + 44

    @property
    def ticks(self) -> Iterator[tuple[int, float, float]]:
        """The ticks of both scales: per cent, x and y."""
        return ((percent, _x(percent / 100), _y(percent / 100)) for percent in range(0, 101, 25))


def agreement(bands: Iterable[tuple[float, float, int]]) -> Agreement:
    """Return the picture of bands: stated chance, share that came, number of reports."""
    told = list(bands)
    most = max((reports for _, _, reports in told), default=1)
    return Agreement(
        tuple(
            Circle(_x(stated), _y(came), max(_SMALLEST, _LARGEST * sqrt(reports / most)))
            for stated, came, reports in told
        )
    )


def _x(chance: float) -> float:
    return LEFT + chance * SIDE


def _y(share: float) -> float:
    return TOP + (1 - share) * SIDE
