"""The sections of a heel, in the order they are worked: a registry.

Adding a kind of section means adding one entry to `SECTIONS`; schedules, schemas, CSV columns and
instructions follow, and tests name the table column and the migration that are still to do.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from models.domain.quantities import Quantity


@dataclass(frozen=True)
class Section:
    """One part of the heel.

    `count` is how many rounds (plain section) or decrease rounds (the others) people give;
    each costs `rounds_each` rounds of knitting, of which the last decreases if `decreases`.
    """

    key: str
    count: Quantity
    rounds_each: int
    decreases: bool

    @property
    def plain_before(self) -> int:
        """Rounds without decreases before each decrease round."""
        return self.rounds_each - 1 if self.decreases else 0


def _count(name: str, text: str) -> Quantity:
    return Quantity(name, 0, 200, "rounds", text, integer=True)


SECTIONS = (
    Section(
        key="plain",
        count=_count("plain_rounds", "Rounds without decreases, first."),
        rounds_each=1,
        decreases=False,
    ),
    Section(
        key="slow",
        count=_count("slow_decrease_rounds", "Decrease rounds worked one round in four."),
        rounds_each=4,
        decreases=True,
    ),
    Section(
        key="medium",
        count=_count("medium_decrease_rounds", "Decrease rounds worked one round in two."),
        rounds_each=2,
        decreases=True,
    ),
    Section(
        key="fast",
        count=_count("fast_decrease_rounds", "Decrease rounds worked every round."),
        rounds_each=1,
        decreases=True,
    ),
)

COUNT_NAMES = tuple(section.count.name for section in SECTIONS)


def count_of(key: str) -> Quantity:
    """Return the count of a section by its key."""
    return next(section.count for section in SECTIONS if section.key == key)


def rounds_worked(counts: Mapping[str, Any]) -> Any:
    """Return `p + 4s + 2m + f` for counts by name; numbers or arrays of one shape.

    >>> rounds_worked({"plain_rounds": 3, "slow_decrease_rounds": 2,
    ...                "medium_decrease_rounds": 2, "fast_decrease_rounds": 2})
    17
    """
    return sum(section.rounds_each * counts[section.count.name] for section in SECTIONS)


def decrease_rounds(counts: Mapping[str, Any]) -> Any:
    """Return `s + m + f` for counts by name; numbers or arrays of one shape."""
    return sum(counts[section.count.name] for section in SECTIONS if section.decreases)
