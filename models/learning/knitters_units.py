"""What a calibration has learned, in the units knitters work in: slow-decrease rounds.

The coefficients are in latent units of a score; what a knitter does about them is to work a deeper
or a shallower heel. The depth that suits two socks differs by a ratio of coefficients, whose
interval is Fieller's; three rounds of knitting are one slow-decrease round more, which replaces a
fast one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from models.domain.anthropometry import pooled
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.domain.quantities import STITCHES_PER_10CM
from models.learning.design import design_of
from models.learning.estimator import Posterior
from models.learning.evidence import Column
from models.learning.fieller import Ratio
from models.learning.needed import Z_80
from models.learning.terms import COEFFICIENT_NAMES, EXCESS

LONGER_MM = 10.0
"""How much longer a measurement is taken to be."""

GAUGE = Gauge(30, 42)
YARN_WEIGHT = 1
CLOSING_STITCHES, MEDIUM_ROUNDS = 16, 4
TUBE_EASE = -0.10
"""The reference sock: round figures in the middle of hand-knit socks (common practice, no source);
its foot is the survey's mean."""

SIZES = {"one sd smaller": -1.0, "the survey's mean": 0.0, "one sd larger": 1.0}
"""The reference feet, in sds of every measurement at once."""

_ROUNDS_OF_A_SLOW_ONE = 3
_SLOPE = COEFFICIENT_NAMES.index(EXCESS)


@dataclass(frozen=True)
class Effect:
    """Slow-decrease rounds with the 80 % interval; no interval where the slope is not established.

    `subject` is a measurement, `stitches_per_10cm`, `yarn_weight_K` or a key of `SIZES`.
    """

    subject: str
    rounds: float
    low: float | None
    high: float | None

    def to_json(self) -> dict[str, Any]:
        """Return the figures as JSON values."""
        return asdict(self)


def effects(posterior: Posterior, yarn_weights: Iterable[int]) -> list[Effect]:
    """Return how many slow-decrease rounds more each thing asks for, all else equal.

    Ten mm more of each measurement, one stitch per 10 cm more, and each of the yarn weights
    against the mean of them.
    """
    changes = dict.fromkeys(MEASUREMENT_NAMES, LONGER_MM) | {STITCHES_PER_10CM.name: 1.0}
    found = [_effect(posterior, name, _difference(name, step)) for name, step in changes.items()]
    return [*found, *_of_yarns(posterior, tuple(yarn_weights))]


def reference_rounds(posterior: Posterior) -> list[Effect]:
    """Return the slow-decrease rounds wanted for a foot of each of `SIZES`, from 0 on."""
    return [
        _effect(posterior, name, -_terms(_reference(_foot(size)))) for name, size in SIZES.items()
    ]


def _effect(posterior: Posterior, subject: str, moved: Column) -> Effect:
    """Return what a move of the wanted depth, terms (p,) over the slope in cm, is in rounds."""
    p = len(COEFFICIENT_NAMES)
    mean, covariance = posterior.mean[:p], posterior.covariance[:p, :p]
    spread = covariance @ moved
    ratio = Ratio(
        float(moved @ mean),
        float(mean[_SLOPE]),
        float(moved @ spread),
        float(spread[_SLOPE]),
        float(covariance[_SLOPE, _SLOPE]),
    )
    rounds_a_cm = GAUGE.rounds_per_10cm / 10 / _ROUNDS_OF_A_SLOW_ONE
    interval = ratio.interval(Z_80) if ratio.denominator > 0 else None
    low, high = (None, None) if interval is None else (end * rounds_a_cm for end in interval)
    return Effect(subject, ratio.numerator / ratio.denominator * rounds_a_cm, low, high)


def _difference(name: str, step: float) -> Column:
    """Return the terms by which the wanted depth moves when the reference sock's `name` does."""
    sock = _reference(_foot(0.0))
    return _terms(sock) - _terms({**sock, name: sock[name] + step})


def _of_yarns(posterior: Posterior, numbers: tuple[int, ...]) -> Iterator[Effect]:
    names = [f"yarn_weight_{number}" for number in numbers]
    places = list(map(COEFFICIENT_NAMES.index, names))
    for name, place in zip(names, places, strict=True):
        moved = np.zeros(len(COEFFICIENT_NAMES))
        moved[places] = 1 / len(places)
        moved[place] -= 1
        yield _effect(posterior, name, moved)


def _terms(sock: dict[str, float]) -> Column:
    return design_of(sock, 0.0).terms


def _foot(size: float) -> dict[str, float]:
    means, covariances = pooled()
    return {name: means[name] + size * covariances[name][name] ** 0.5 for name in MEASUREMENT_NAMES}


def _reference(foot: dict[str, float]) -> dict[str, float]:
    """Return the sock for a foot, with the stitches that suit it and no slow-decrease round."""
    around = foot["foot_circumference_mm"] * (1 + TUBE_EASE)
    heel = 4 * round(around * GAUGE.stitches_per_10cm / 100 / 4)
    schedule = Policy(heel, CLOSING_STITCHES, MEDIUM_ROUNDS).schedule(0)
    return {
        **foot,
        **schedule.counts,
        "yarn_weight": YARN_WEIGHT,
        "stitches_per_10cm": GAUGE.stitches_per_10cm,
        "rounds_per_10cm": GAUGE.rounds_per_10cm,
        "heel_stitches": schedule.heel_stitches,
        "decreases_per_round": schedule.decreases_per_round,
    }
