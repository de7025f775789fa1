"""Scores over depth: groups of socks, the curve that is expected of them, the reader's own socks.

Depth runs to the right, in mm beyond the geometry's ideal; scores run upwards, deep above.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from models.learning.needed import Z_80
from service.drawings.outline import Point, shown

Row = Mapping[str, Any]

WIDTH = 340.0
LEFT, RIGHT, TOP = 30.0, 18.0, 26.0
ROOM = 200.0
"""Height of the scale of scores."""

DEEPEST = 2.0
_LEAST_REACH, _TICK = 25.0, 10
_BOX = 9.0


@dataclass(frozen=True)
class Group:
    """Socks of about one depth: where their mean score lies, and the ends of its 80 % interval.

    `ends` is None where the mean is known in whole scores only.
    """

    at: Point
    ends: tuple[float, float] | None


@dataclass(frozen=True)
class Scores:
    """The picture, in units of the drawing; `reach` is the largest depth drawn, mm."""

    reach: float
    groups: tuple[Group, ...]
    curve: str
    band: str
    own: tuple[Point, ...]

    width = WIDTH
    box = _BOX
    left = LEFT
    top = TOP
    floor = TOP + ROOM
    height = TOP + ROOM + 46

    @property
    def right(self) -> float:
        """The x where the drawing's room ends."""
        return WIDTH - RIGHT

    @property
    def aim(self) -> tuple[float, float]:
        """Top and height of the mean scores that are nearer to just right than to the next."""
        return _y(0.5), _y(-0.5) - _y(0.5)

    @property
    def ideal(self) -> float:
        """The x of the geometry's ideal."""
        return self._x(0.0)

    @property
    def depths(self) -> Iterator[tuple[int, float]]:
        """The ticks of the depths: mm and x."""
        furthest = int(self.reach) // _TICK * _TICK
        step = _TICK * ceil(furthest / (2 * _TICK)) if furthest > 3 * _TICK else _TICK
        for mm in range(-furthest // step * step, furthest + 1, step):
            if abs(mm) <= self.reach:
                yield mm, self._x(mm)

    @property
    def scores(self) -> Iterator[tuple[int, float]]:
        """The ticks of the scores: score and y."""
        return ((score, _y(score)) for score in range(-2, 3))

    def _x(self, mm: float) -> float:
        return _x(mm, self.reach)


def scores(groups: Sequence[Row], curve: Sequence[Row], own: Iterable[Row]) -> Scores:
    """Return the picture.

    Parameters
    ----------
    groups : sequence of mappings
        Rows of a card's scores by depth: `at` mm, `value`, `standard_error` or None.
    curve : sequence of mappings
        Rows of its expected scores: `at` mm, `value`, `low`, `high`; none for a card without.
    own : iterable of mappings
        The reader's socks: `excess_mm` and `fit_score`.

    """
    socks = [(float(one["excess_mm"]), float(one["fit_score"])) for one in own]
    furthest = max([_LEAST_REACH, *(abs(mm) for mm, _ in socks), *(abs(g["at"]) for g in groups)])
    reach = ceil(furthest / 5) * 5.0
    upper, middle, lower = (_along(curve, name, reach) for name in ("high", "value", "low"))
    return Scores(
        reach,
        tuple(_group(one, reach) for one in groups),
        " ".join(map(shown, middle)),
        " ".join(map(shown, [*upper, *reversed(lower)])),
        tuple((_x(mm, reach), _y(score)) for mm, score in socks),
    )


def _group(one: Row, reach: float) -> Group:
    mean, error = one["value"], one["standard_error"]
    at = (_x(one["at"], reach), _y(mean))
    if error is None:
        return Group(at, None)
    low, high = max(mean - Z_80 * error, -DEEPEST), min(mean + Z_80 * error, DEEPEST)
    return Group(at, (_y(low), _y(high)))


def _along(curve: Sequence[Row], name: str, reach: float) -> list[Point]:
    return [(_x(one["at"], reach), _y(one[name])) for one in curve]


def _x(mm: float, reach: float) -> float:
    return LEFT + (mm + reach) / (2 * reach) * (WIDTH - LEFT - RIGHT)


def _y(score: float) -> float:
    return TOP + (DEEPEST - score) / (2 * DEEPEST) * ROOM
