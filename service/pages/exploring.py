"""A foot to try chances for: set with a few fields, kept in a cookie for the page of one group."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from models.domain.anthropometry import pooled
from models.domain.foot import MEASUREMENTS, Measurement
from models.domain.units import from_mm
from service.pages.filling import filled
from service.pages.invented import INVENTED
from service.pages.kept import Kept
from service.pages.steps import STEPS, STITCHES

COOKIE = "heeldepth_foot"

EXPLORED = tuple(step for step in STEPS if step.fields != STITCHES)
"""What is asked for; the stitches follow from it."""

_SDS = 4


@dataclass(frozen=True)
class Slider:
    """How far a measurement can be slid where script is there, in cm."""

    low: float
    high: float
    step: float = 0.1


@cache
def sliders() -> dict[str, Slider]:
    """Return a slider for each measurement, over nearly all adults of the survey."""
    means, covariances = pooled()
    return {m.name: _slider(m, means[m.name], covariances[m.name][m.name]) for m in MEASUREMENTS}


@cache
def invented() -> Kept:
    """Return an invented foot as if it had been typed."""
    kept = Kept()
    for name, value in INVENTED.foot.items():
        kept = kept.having(name, f"{from_mm(value, 'cm'):g}", "cm")
    for name in ("stitches_per_10cm", "rounds_per_10cm"):
        kept = kept.having(name, f"{getattr(INVENTED.gauge, name):g}")
    return kept.having("yarn_weight", str(INVENTED.yarn_weight))


def entered(kept: Kept, form: Mapping[str, str]) -> Kept:
    """Return what is kept once the fields were sent."""
    for step in EXPLORED:
        kept = filled(kept, step, form)
    return kept


def _slider(measurement: Measurement, mean: float, variance: float) -> Slider:
    reach = _SDS * variance**0.5
    low, high = max(mean - reach, measurement.low), min(mean + reach, measurement.high)
    return Slider(round(from_mm(low, "cm")), round(from_mm(high, "cm")))
