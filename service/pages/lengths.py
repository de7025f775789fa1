"""Lengths on a foot as people type them: read where there is no doubt, asked back otherwise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from models.domain.foot import Measurement
from models.domain.plausibility import usual
from models.domain.units import MM_PER_UNIT, from_mm, to_mm
from service.pages.typed import LONGEST, Typed, typed
from service.pages.words import label

UNIT_NAMES = {"cm": "cm", "in": "inches", "mm": "mm"}

_SHIFTS = (1, 0.1, 10)
"""A decimal separator in its place, left out, and one place too far left."""


@dataclass(frozen=True)
class Reading:
    """One thing that an entry may mean: as it would be typed without doubt, and in mm."""

    text: str
    value_mm: float

    @property
    def words(self) -> str:
        """The reading as a button says it, in cm as well where it is in something else."""
        if self.text.endswith(" cm"):
            return self.text
        return f"{self.text} ({from_mm(self.value_mm, 'cm'):.1f} cm)"


@dataclass(frozen=True)
class Entry:
    """An entry as read: a value, or what is wrong with it and what it may mean instead."""

    value: float | None = None
    problem: str = ""
    readings: tuple[Reading, ...] = ()


def read_length(text: str, unit: str, measurement: Measurement) -> Entry:
    """Return what was typed for a measurement, in mm; `unit` is that of numbers without one.

    An entry that is possible but unusual, and would be usual read in another way, is asked back;
    one that names its unit is taken at its word if it can be.
    """
    if not text.strip():
        return Entry(problem=_missing(measurement)) if measurement.required else Entry()
    said = typed(text)
    if said is None:
        return Entry(problem=_no_number(unit))
    literal = [Reading(_spelt(n, u := said.unit or unit), to_mm(n, u)) for n in said.numbers]
    possible = [one for one in literal if measurement.fault(one.value_mm) is None]
    others = tuple(_others(said, unit, measurement))
    if len(possible) == 1 and _clear(possible[0], said, measurement, others):
        return Entry(possible[0].value_mm)
    readings = tuple({round(one.value_mm, 3): one for one in (*others, *possible)}.values())
    return Entry(problem=_doubt(text, literal, measurement, unit, readings), readings=readings)


def _clear(reading: Reading, said: Typed, of: Measurement, others: tuple[Reading, ...]) -> bool:
    return said.unit is not None or usual(of.name, reading.value_mm) or not others


def _others(said: Typed, unit: str, measurement: Measurement) -> Iterator[Reading]:
    """Yield usual measurements that a slip of unit or separator would have turned into this."""
    seen = set()
    for number in said.numbers:
        for shift in _SHIFTS:
            for other in dict.fromkeys((unit, *MM_PER_UNIT)):
                if shift != 1 and other != unit:
                    continue
                value = to_mm(number * shift, other)
                if round(value, 3) not in seen and usual(measurement.name, value):
                    seen.add(round(value, 3))
                    yield Reading(_spelt(number * shift, other), value)


def limits(measurement: Measurement, unit: str) -> str:
    """Return between which lengths a measurement must lie, in a unit.

    >>> from models.domain.foot import MEASUREMENTS
    >>> limits(MEASUREMENTS[0], "cm")
    'from 6 to 40 cm'
    """
    low, high = (from_mm(end, unit) for end in (measurement.low, measurement.high))
    return f"from {low:.3g} to {high:.3g} {UNIT_NAMES[unit]}"


def _spelt(number: float, unit: str) -> str:
    return f"{number:.10g} {UNIT_NAMES[unit]}"


def _missing(measurement: Measurement) -> str:
    return f"Type the {label(measurement)}."


def _no_number(unit: str) -> str:
    example = "9.5, 9 1/2 or 24 cm" if unit == "in" else "24.5, 24,5 or 9 1/2 in"
    return f"Type one length, such as {example}; at most {LONGEST} characters."


def _doubt(
    text: str,
    literal: list[Reading],
    measurement: Measurement,
    unit: str,
    readings: tuple[Reading, ...],
) -> str:
    """Say what is odd about an entry."""
    meant = " or ".join(one.text for one in literal)
    said = f"“{text.strip()}” reads as {meant}"
    if not readings:
        name = label(measurement)
        return f"{said}; a {name} must be {limits(measurement, unit)}."
    unlikely = f"{said}, which is unlikely for a {label(measurement)}."
    only = f"Did you mean {readings[0].words}?"
    return f"{unlikely} {only if len(readings) == 1 else 'Which do you mean?'}"
