"""The columns of a file of reports: what each means, and a row to begin with."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from models.domain.foot import MEASUREMENTS
from models.domain.quantities import Quantity
from models.domain.reports import (
    LONGEST,
    OPTIONAL_COLUMNS,
    OPTIONAL_NUMBERS,
    SOCK,
    USUAL_COLUMNS,
)
from models.domain.texts import wanted_text

_TEXTS = {
    "reporter": "Whose foot it is: the name in the group, or one for somebody who has not joined.",
    "design": "The design that was knitted.",
    "size": "The size of the design, by its label.",
    "knitted_on": "When the sock was finished.",
    "notes": "Whatever else is worth knowing.",
}

EXAMPLE_REPORTER = "Invented example"
EXAMPLE: dict[str, str | float] = {
    "reporter": EXAMPLE_REPORTER,
    "foot_length_mm": 248,
    "foot_circumference_mm": 231,
    "heel_diagonal_mm": 312,
    "ankle_circumference_mm": 217,
    "yarn_weight": 1,
    "stitches_per_10cm": 30,
    "rounds_per_10cm": 42,
    "heel_stitches": 64,
    "plain_rounds": 3,
    "slow_decrease_rounds": 3,
    "medium_decrease_rounds": 4,
    "fast_decrease_rounds": 5,
    "fit_score": -1,
    "decreases_per_round": 4,
    "design": "Invented sock",
    "size": "M",
    "knitted_on": "2025-11-02",
    "times_washed": 2,
    "times_worn": 5,
    "notes": "an invented row: put your own in its place",
}
"""An invented sock, by column."""


@dataclass(frozen=True)
class Explained:
    """A column of a file of reports as it is explained to people."""

    name: str
    may_be_empty: bool
    meaning: str
    wanted: str


def explained() -> Iterator[Explained]:
    """Yield the columns of a file of reports in their order."""
    numbers = {quantity.name: quantity for quantity in (*MEASUREMENTS, *SOCK, *OPTIONAL_NUMBERS)}
    for name in (*USUAL_COLUMNS, *OPTIONAL_COLUMNS):
        if name in numbers:
            yield _number(numbers[name], may_be_empty=name in OPTIONAL_COLUMNS)
        else:
            yield Explained(name, name in OPTIONAL_COLUMNS, _TEXTS[name], _wanted(name))


def _number(quantity: Quantity, *, may_be_empty: bool) -> Explained:
    empty = may_be_empty or not quantity.required
    return Explained(quantity.name, empty, quantity.text, quantity.wanted)


def _wanted(name: str) -> str:
    if name not in LONGEST:
        return "it must be a day as YYYY-MM-DD"
    return f"it must be {wanted_text(LONGEST[name], lines=name == 'notes')}"
