"""Is this a foot? Limits, slips of unit, and measurements that do not belong together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from models.domain.anthropometry import pooled, regression
from models.domain.errors import Fault, Invalid
from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS, Foot

ODD = 5.0
"""Residual sds from the other measurements beyond which a slip of unit is looked for."""

MOST_THAT_CAN_SLIP_MM = 100_000
"""Beyond it no slip of unit gives a foot, and an int may be too large to be a float."""

AGREES = 4.0
"""Residual sds within which a corrected measurement agrees with the others."""


@dataclass(frozen=True)
class Slip:
    """A usual mistake of unit: the true value is `factor` times what was given."""

    factor: float
    name: str

    def put_right(self, value: float) -> str:
        """Return a phrase that names the slip and the value it would give."""
        return f"looks like {self.name}: {value:g} would be {value * self.factor:.0f} mm"


SLIPS = (
    Slip(10, "centimetres given as millimetres"),
    Slip(25.4, "inches given as millimetres"),
    Slip(2.54, "inches given as centimetres"),
    Slip(0.1, "a comma one place too far right"),
    Slip(1 / 2.54, "centimetres given as inches"),
)


def require_plausible(foot: Foot, under: str = "") -> None:
    """Raise `Invalid` where a measurement is missing, outside its limits or a slip of unit.

    `under` is put before the fields of the faults, where the foot is part of something.

    >>> require_plausible({"foot_length_mm": 98, "foot_circumference_mm": 228})
    Traceback (most recent call last):
    ...
    models.domain.errors.Invalid: foot_length_mm is 98: looks like inches given as centimetres: \
98 would be 249 mm
    """
    faults = list(_limits(foot))
    if not faults and (slip := _slip_in(foot)):
        faults = [slip]
    if faults:
        raise Invalid(fault.under(under) if under else fault for fault in faults)


def doubts_about_foot(foot: Foot) -> list[Fault]:
    """Return what is unusual about a foot that can still be used.

    Of measurements that do not belong together only the worst is named: it drags the others along.
    """
    return [*_outside_survey(foot), *_apart_from_the_rest(foot)]


def departure(name: str, foot: Foot) -> float:
    """Return how many residual sds a measurement lies from what the others lead to expect."""
    expected = regression(name, frozenset(foot) - {name})
    return float((foot[name] - expected.predict(foot)) / expected.sd)


def survey_score(name: str, value: Any) -> Any:
    """Return how many sds a value, or each of an array, lies from the survey's mean."""
    means, covariances = pooled()
    return (value - means[name]) / covariances[name][name] ** 0.5


def usual(name: str, value: float) -> bool:
    """Whether a measurement in mm is near enough to the survey's to be taken without a question."""
    return bool(abs(survey_score(name, value)) < AGREES)


def _limits(foot: Foot) -> Iterator[Fault]:
    for measurement in MEASUREMENTS:
        fault = measurement.fault(foot.get(measurement.name))
        if fault is not None:
            yield hinted(fault)
    for name in foot:
        if name not in MEASUREMENT_NAMES:
            yield Fault(name, foot[name], f"measurements are {', '.join(MEASUREMENT_NAMES)}")


def hinted(fault: Fault) -> Fault:
    """Return a fault of one measurement, with the slip of unit that would explain it."""
    if fault.field not in MEASUREMENT_NAMES or isinstance(fault.value, bool):
        return fault
    if not isinstance(fault.value, (int, float)) or abs(fault.value) > MOST_THAT_CAN_SLIP_MM:
        return fault
    for slip in SLIPS:
        if usual(fault.field, fault.value * slip.factor):
            wanted = f"{fault.wanted}; {slip.put_right(fault.value)}"
            return Fault(fault.field, fault.value, wanted)
    return fault


def _slip_in(foot: Foot) -> Fault | None:
    """Return the one slip of unit that makes a contradictory foot agree with itself, if any."""
    if len(foot) < 2 or all(abs(departure(name, foot)) <= ODD for name in foot):
        return None
    mended = [
        (abs(survey_score(name, corrected[name])), name, slip)
        for name in foot
        for slip in SLIPS
        if _agrees(corrected := {**foot, name: foot[name] * slip.factor})
    ]
    if not mended:
        return None
    _, name, slip = min(mended, key=lambda found: found[0])
    return Fault(name, foot[name], slip.put_right(foot[name]))


def _agrees(foot: Foot) -> bool:
    return all(abs(departure(name, foot)) < AGREES for name in foot)


def _outside_survey(foot: Foot) -> Iterator[Fault]:
    for name, value in foot.items():
        if not usual(name, value):
            mean = pooled()[0][name]
            wanted = f"far from the adults of the survey (mean {mean:.0f} mm), so this extrapolates"
            yield hinted(Fault(name, value, wanted))


def _apart_from_the_rest(foot: Foot) -> Iterator[Fault]:
    if len(foot) < 2:
        return
    name = max(foot, key=lambda one: abs(departure(one, foot)))
    if abs(departure(name, foot)) > ODD:
        expected = regression(name, frozenset(foot) - {name}).predict(foot)
        yield Fault(name, foot[name], f"the other measurements suggest about {expected:.0f} mm")
