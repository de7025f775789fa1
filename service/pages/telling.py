"""What somebody tells of a finished sock: as typed, as read, and as the API takes it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from models.domain.errors import Fault
from models.domain.foot import MEASUREMENTS
from models.domain.quantities import (
    DECREASES_PER_ROUND,
    FIT_SCORE,
    FIT_SCORES,
    GAUGE,
    HEEL_STITCHES,
    TIMES_WASHED,
    TIMES_WORN,
    YARN_WEIGHT,
    Quantity,
)
from models.domain.reports import SYMPTOMS
from models.domain.sections import SECTIONS
from service.pages.kept import WIDTHS, Kept
from service.pages.reading import Problem, as_sent, read
from service.pages.steps import Step
from service.pages.words import spoken

ROUNDS = Step("rounds", "The rounds you worked", tuple(one.count for one in SECTIONS), "")
FOOT = Step("foot", "The foot", MEASUREMENTS, "")
SOCK = Step("sock", "The sock", (*GAUGE, YARN_WEIGHT, HEEL_STITCHES, DECREASES_PER_ROUND), "")
USE = Step("use", "Use", (TIMES_WASHED, TIMES_WORN), "")
PARTS = (ROUNDS, FOOT, SOCK, USE)

TEXTS = ("reporter", "design", "size", "knitted_on", "notes")
FOLLOWED = "suggestion_id"
CHOICES = (FIT_SCORE.name, *(symptom.name for symptom in SYMPTOMS))

OF_THE_SOCK = frozenset(one.name for part in (FOOT, SOCK) for one in part.fields)
OF_ITS_USE = frozenset((*(one.name for one in USE.fields), *TEXTS))
"""Fields of the two parts of the form that open where something in them is wrong."""

_DECIMALS = 6
"""Of a millimetre: what reading a decimal fraction leaves behind is less."""


@dataclass(frozen=True)
class Telling:
    """A sock as its form tells it: numbers as typed, and what was chosen or written."""

    kept: Kept
    said: Mapping[str, str] = field(default_factory=dict)

    first = FIT_SCORE.name
    """The field that a refusal of the whole is about."""

    def read(self) -> tuple[dict[str, Any], tuple[Problem, ...]]:
        """Return the body of a report, and what cannot be read of it."""
        problems = (*self._not_chosen(), *read(self.kept, PARTS).problems)
        left_out = {quantity.name: None for quantity in USE.fields}
        return {**left_out, **as_sent(self.numbers), **self._chosen()}, problems

    @property
    def numbers(self) -> dict[str, float]:
        """The numbers that can be read, as the API takes them."""
        found = read(self.kept, PARTS).values
        return {name: round(value, _DECIMALS) for name, value in found.items()}

    def problem(self, fault: Fault) -> Problem:
        """Return a fault of the report as a problem of the form."""
        name = fault.path[-1] if fault.path else self.first
        said = self.kept.text(name) or self.said.get(name, "")
        given = f"“{said.strip()}” will not do; " if said.strip() else ""
        return Problem(name, f"{named(name)}: {given}{fault.wanted}.")

    @property
    def is_about_something(self) -> bool:
        """Whether foot and sock are filled in already."""
        return any(self.kept.text(one.name) for one in MEASUREMENTS)

    def of_the_sock(self, names: Iterable[str]) -> bool:
        """Return whether one of some fields is about foot, yarn or stitches."""
        return not OF_THE_SOCK.isdisjoint(names)

    def of_its_use(self, names: Iterable[str]) -> bool:
        """Return whether one of some fields is about wear, day or notes."""
        return not OF_ITS_USE.isdisjoint(names)

    @property
    def rounds(self) -> tuple[Quantity, ...]:
        """The counts of the sections."""
        return ROUNDS.fields

    @property
    def measurements(self) -> tuple[Quantity, ...]:
        """The measurements of the foot."""
        return FOOT.fields

    @property
    def fabric(self) -> tuple[Quantity, ...]:
        """Gauge, yarn weight and stitches."""
        return SOCK.fields

    @property
    def use(self) -> tuple[Quantity, ...]:
        """How often it was washed and worn."""
        return USE.fields

    @property
    def brief(self) -> str:
        """Foot and sock on one line."""
        length, around = (self.kept.entries[one.name].whole for one in MEASUREMENTS[:2])
        stitches, rounds = (self.kept.text(one.name) for one in GAUGE)
        weight, heel = (self.kept.text(one.name) for one in (YARN_WEIGHT, HEEL_STITCHES))
        width, unit = WIDTHS[self.kept.width]
        return (
            f"Foot {length} long and {around} around; {stitches} stitches and {rounds} rounds in "
            f"{width:g} {unit}; yarn weight {weight}; {heel} heel stitches"
        )

    def _not_chosen(self) -> Iterator[Problem]:
        if self.said.get(FIT_SCORE.name) not in {str(score) for score in FIT_SCORES}:
            yield Problem(FIT_SCORE.name, "Choose how deep the heel is.")

    def _chosen(self) -> dict[str, Any]:
        score, followed = (self.said.get(name, "") for name in (FIT_SCORE.name, FOLLOWED))
        return {
            **({FOLLOWED: followed} if followed else {}),
            **{name: self.said.get(name, "").strip() or None for name in TEXTS},
            **{symptom.name: int(self.said.get(symptom.name) == "1") for symptom in SYMPTOMS},
            FIT_SCORE.name: int(score) if score.lstrip("-").isdecimal() else None,
        }


def named(name: str) -> str:
    """Return the name of a field as people say it.

    >>> named("times_worn"), named("heel_diagonal_mm")
    ('Times worn', 'Heel diagonal')
    """
    return spoken(name).replace("_", " ")
