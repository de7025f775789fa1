"""Chances as twenty dots, and as a bar for every number of slow-decrease rounds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

WIDTH = 340.0
BAR_ROOM = 96.0
"""Height of the tallest bar."""

TOP = 20.0
_GAP = 0.25
_IN_A_ROW = 10
_DOT = 34.0


@dataclass(frozen=True)
class Dot:
    """One heel of twenty; `full` where it is just right."""

    x: float
    y: float
    full: bool


def dots(full: int, of: int) -> list[Dot]:
    """Return dots in rows of ten, the full ones first."""
    return [
        Dot(_DOT * (k % _IN_A_ROW + 0.5), _DOT * (k // _IN_A_ROW + 0.5), k < full)
        for k in range(of)
    ]


@dataclass(frozen=True)
class Bar:
    """One number of slow-decrease rounds with its chance."""

    rounds: int
    chance: float
    x: float
    y: float
    width: float
    height: float
    chosen: bool
    labelled: bool

    @property
    def middle(self) -> float:
        """The x of the bar's middle."""
        return self.x + self.width / 2


@dataclass(frozen=True)
class Bars:
    """All bars, and the ends of the range in which the best number lies, if all of it is drawn."""

    bars: tuple[Bar, ...]
    range: tuple[float, float] | None

    width = WIDTH
    floor = TOP + BAR_ROOM

    @property
    def height(self) -> float:
        """Height of the drawing."""
        return self.floor + (52 if self.range else 26)

    @property
    def middle(self) -> float:
        """The x of the range's middle."""
        low, high = self.range or (0.0, WIDTH)
        return (low + high) / 2


def bars(candidates: Sequence[Mapping[str, Any]], chosen: int, low: int, high: int) -> Bars:
    """Return a bar for each candidate; the tallest fills the room.

    Candidates are `slow_decrease_rounds` and `chance_just_right`, in the order of the rounds;
    `low` and `high` are the ends of the range.
    """
    each = min(WIDTH / len(candidates), 60.0)
    start = (WIDTH - each * len(candidates)) / 2
    tallest = max(one["chance_just_right"] for one in candidates) or 1.0
    sparse = -(-len(candidates) // 14)
    drawn = tuple(
        _bar(one, start + each * k, each, tallest, chosen, sparse)
        for k, one in enumerate(candidates)
    )
    inside = [bar for bar in drawn if low <= bar.rounds <= high]
    if len(inside) <= high - low:
        return Bars(drawn, None)
    return Bars(drawn, (inside[0].x, inside[-1].x + inside[-1].width))


def _bar(
    one: Mapping[str, Any], x: float, each: float, tallest: float, chosen: int, sparse: int
) -> Bar:
    rounds, chance = one["slow_decrease_rounds"], one["chance_just_right"]
    height = BAR_ROOM * chance / tallest
    return Bar(
        rounds,
        chance,
        x + each * _GAP / 2,
        TOP + BAR_ROOM - height,
        each * (1 - _GAP),
        height,
        rounds == chosen,
        rounds % sparse == 0 or rounds == chosen,
    )
