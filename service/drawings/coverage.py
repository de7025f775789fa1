"""How many people stand behind each kind of sock: one bar a kind, the thin ones told apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

WIDTH = 340.0
ROW = 30.0
LABELS, NUMBERS = 112.0, 34.0
"""Room for the labels on the left and for the numbers on the right."""

THIN = 20
"""People below whom a kind's own figures say little: a band is compared from as many on."""

_BAR = 16.0


@dataclass(frozen=True)
class Row:
    """One kind of sock, with its people; `thin` where they are few."""

    label: str
    people: int
    y: float
    width: float
    thin: bool

    @property
    def base(self) -> float:
        """The y on which the words of the row stand."""
        return self.y + _BAR - 3.5

    @property
    def end(self) -> float:
        """The x of the bar's end."""
        return LABELS + self.width


@dataclass(frozen=True)
class Coverage:
    """The picture, in units of the drawing."""

    rows: tuple[Row, ...]

    width = WIDTH
    start = LABELS
    bar = _BAR

    @property
    def height(self) -> float:
        """Height of the drawing."""
        return ROW * len(self.rows)


def coverage(cells: Sequence[Mapping[str, Any]]) -> Coverage:
    """Return the picture of the rows of a card's counts: `label` and `people`."""
    most = max((one["people"] for one in cells), default=1)
    room = WIDTH - LABELS - NUMBERS
    return Coverage(
        tuple(
            Row(
                str(one["label"]),
                one["people"],
                ROW * place + (ROW - _BAR) / 2,
                room * one["people"] / most,
                one["people"] < THIN,
            )
            for place, one in enumerate(cells)
        )
    )
