"""A size of a design: a registry of what a designer states of it.

Schemas, the columns of a size table and the table's own columns follow from `NUMBERS`. A size that
was only ever named in a report has its label and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from models.domain.errors import Fault, Invalid
from models.domain.foot import MEASUREMENTS
from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.domain.quantities import (
    CLOSING_STITCHES,
    DECREASES_PER_ROUND,
    GAUGE,
    HEEL_STITCHES,
    USUAL_DECREASES_PER_ROUND,
    YARN_WEIGHT,
    Quantity,
)
from models.domain.sections import count_of

LONGEST_LABEL = 40
MOST_SIZES = 60
"""Sizes of one design; with more, something else is being listed."""

PLAIN, SLOW, MEDIUM = (count_of(key) for key in ("plain", "slow", "medium"))

RANGED = ("foot_length_mm", "foot_circumference_mm")
"""Measurements by which a size says whom it is meant for: those that everybody has."""


def end_of(name: str, end: str) -> str:
    """Return the name of one end ("low" or "high") of a range.

    >>> end_of("foot_length_mm", "low")
    'foot_length_low_mm'
    """
    return f"{name.removesuffix('_mm')}_{end}_mm"


def _ends() -> Iterator[Quantity]:
    for measurement in MEASUREMENTS:
        if measurement.name in RANGED:
            for end, word in (("low", "Shortest"), ("high", "Longest")):
                kind = measurement.name.removesuffix("_mm").replace("_", " ")
                text = f"{word} {kind} the size is meant for."
                low, high = measurement.low, measurement.high
                yield Quantity(end_of(measurement.name, end), low, high, "mm", text)


RANGES = tuple(_ends())

WORKED = (
    replace(PLAIN, text="Plain rounds as the pattern has them today."),
    replace(SLOW, text="Slow-decrease rounds as the pattern has them today."),
)
"""What calibrated defaults may change."""

NUMBERS: tuple[Quantity, ...] = (
    *RANGES,
    YARN_WEIGHT,
    *GAUGE,
    HEEL_STITCHES,
    CLOSING_STITCHES,
    replace(MEDIUM, text="Medium decrease rounds that are wanted where there is room."),
    *WORKED,
)
"""Every number of a size that must be known before it can have a default."""

OPTIONAL_NUMBERS: tuple[Quantity, ...] = (DECREASES_PER_ROUND,)

COLUMNS = ("label", *(quantity.name for quantity in (*NUMBERS, *OPTIONAL_NUMBERS)))
"""Columns of a size table."""


def is_complete(size: Mapping[str, Any]) -> bool:
    """Return whether everything that a default needs is known of a size."""
    return all(size[quantity.name] is not None for quantity in NUMBERS)


def policy_of(size: Mapping[str, Any]) -> Policy:
    """Return what is fixed in the heel of a complete size.

    Raises
    ------
    Invalid
        Where the stitches do not come out.

    """
    fixed = (HEEL_STITCHES, CLOSING_STITCHES, MEDIUM, PLAIN)
    each = size.get(DECREASES_PER_ROUND.name) or USUAL_DECREASES_PER_ROUND
    named = {quantity.name: size[quantity.name] for quantity in fixed}
    return Policy(**named, decreases_per_round=each)


def gauge_of(size: Mapping[str, Any]) -> Gauge:
    """Return the gauge of a complete size."""
    return Gauge(*(size[quantity.name] for quantity in GAUGE))


def require_possible(size: Mapping[str, Any]) -> None:
    """Raise `Invalid` where a complete size cannot be knitted or is meant for nobody."""
    faults = list(_empty_ranges(size))
    if faults:
        raise Invalid(faults)
    gauge_of(size)
    policy_of(size).schedule(size[SLOW.name])


def _empty_ranges(size: Mapping[str, Any]) -> Iterator[Fault]:
    for name in RANGED:
        low, high = end_of(name, "low"), end_of(name, "high")
        if not size[low] < size[high]:
            yield Fault(high, size[high], f"it must be more than {low}, which is {size[low]:g}")
