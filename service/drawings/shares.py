"""Shares of people whose heel is too shallow, just right, too deep: one bar of three parts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

WIDTH, HEIGHT = 340.0, 24.0
PARTS = ("too_shallow", "just_right", "too_deep")


@dataclass(frozen=True)
class Part:
    """One part of the bar; `percent` is written into it where there is room."""

    key: str
    x: float
    width: float
    percent: int

    @property
    def middle(self) -> float:
        """The x of the part's middle."""
        return self.x + self.width / 2

    @property
    def roomy(self) -> bool:
        """Whether the number fits into the part."""
        return self.width >= 34.0


def shares(choice: Mapping[str, Any]) -> list[Part]:
    """Return the parts of a bar for a choice with `too_shallow`, `just_right` and `too_deep`.

    The shares are rounded and may sum to a little more or less than 1; the bar is always full.
    """
    return list(_parts(choice))


def _parts(choice: Mapping[str, Any]) -> Iterator[Part]:
    whole, x = sum(choice[key] for key in PARTS), 0.0
    for key in PARTS:
        width = WIDTH * choice[key] / whole
        yield Part(key, x, width, round(100 * choice[key]))
        x += width
