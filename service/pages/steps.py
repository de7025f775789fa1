"""The questions of Ask, in order: one for each measurement of the registry, then the sock."""

from __future__ import annotations

from dataclasses import dataclass

from models.domain.foot import MEASUREMENTS, Measurement
from models.domain.quantities import (
    CLOSING_STITCHES,
    GAUGE,
    HEEL_STITCHES,
    YARN_WEIGHT,
    Quantity,
)
from models.domain.sections import count_of
from service.pages.words import label

STITCHES = (HEEL_STITCHES, CLOSING_STITCHES, count_of("plain"), count_of("medium"))


@dataclass(frozen=True)
class Step:
    """One question: its place in addresses, its title, and the fields that answer it."""

    key: str
    title: str
    fields: tuple[Quantity, ...]
    template: str

    @property
    def measurement(self) -> Measurement | None:
        """The measurement that is asked for, if it is one."""
        first = self.fields[0]
        return first if isinstance(first, Measurement) else None

    @property
    def may_be_skipped(self) -> bool:
        """Whether the question may be left without an answer."""
        return not any(quantity.required for quantity in self.fields)


def _measuring(measurement: Measurement) -> Step:
    name = label(measurement)
    return Step(name.replace(" ", "-"), name.capitalize(), (measurement,), "measurement.html")


STEPS = (
    *map(_measuring, MEASUREMENTS),
    Step("gauge", "Gauge", GAUGE, "gauge.html"),
    Step("yarn", "Yarn weight", (YARN_WEIGHT,), "yarn.html"),
    Step("stitches", "Stitches of the heel", STITCHES, "stitches.html"),
)


def step_of(name: str) -> Step:
    """Return the step that asks for a field."""
    return next(step for step in STEPS if name in {quantity.name for quantity in step.fields})


def before(step: Step) -> Step | None:
    """Return the step before a step, if it is not the first."""
    place = STEPS.index(step)
    return STEPS[place - 1] if place else None


def after(step: Step) -> Step | None:
    """Return the step after a step, if it is not the last."""
    place = STEPS.index(step)
    return STEPS[place + 1] if place + 1 < len(STEPS) else None
