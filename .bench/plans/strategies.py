"""Ways to choose the next test knits: each returns sizes, feet looked for, and rounds."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from decisions.worlds import Socks

from models.learning.calibration import Calibration
from models.learning.defaults import Defaults, defaults, geometry_asks
from models.learning.estimator import LINK
from models.learning.optimal import determinant_gain, expected_information, updated, variances
from models.learning.ordinal.likelihood import Noise
from models.learning.ordinal.links import LINKS
from models.learning.ordinal.thresholds import thresholds_from_gaps
from models.learning.outcomes import SizeHeel
from models.learning.plan import candidates, plan
from models.learning.terms import COEFFICIENT_NAMES

Asked = tuple[int, dict[str, float] | None, int]
"""Place of the size, the foot looked for (None: anybody's), slow-decrease rounds."""

Strategy = Callable[[np.random.Generator, Calibration, list[SizeHeel], int], list[Asked]]


def planned(
    rng: np.random.Generator, calibration: Calibration, sizes: list[SizeHeel], number: int
) -> list[Asked]:
    """Ask as the service plans: for the largest expected drop of the defaults' loss."""
    found: Defaults = defaults(calibration, sizes)
    places = {size.label: place for place, size in enumerate(sizes)}
    return [
        (places[one.sock.size.label], one.sock.foot, one.sock.slow_decrease_rounds)
        for one in plan(found, number)
    ]


def determinant(
    rng: np.random.Generator, calibration: Calibration, sizes: list[SizeHeel], number: int
) -> list[Asked]:
    """Ask for the largest gain of the determinant, among all socks that can be knitted."""
    posterior, p = calibration.posterior, len(COEFFICIENT_NAMES)
    socks = candidates(posterior, sizes)
    limits = thresholds_from_gaps(posterior.mean[p:])
    sd = np.full(len(socks.rows), posterior.noise_variance**0.5)
    noise = Noise(LINKS[LINK], posterior.contamination, sd)
    covariance, asked = posterior.covariance[:p, :p].copy(), []
    places = {size.label: place for place, size in enumerate(sizes)}
    for _ in range(number):
        spread = variances(covariance, socks.rows)
        told = expected_information(noise, limits, socks.position, spread)
        best = int(np.argmax(determinant_gain(covariance, socks.rows, told)))
        covariance = updated(covariance, socks.rows[best], float(told[best]))
        sock = socks.socks[best]
        asked.append((places[sock.size.label], sock.foot, sock.slow_decrease_rounds))
    return asked


def at_random(
    rng: np.random.Generator, calibration: Calibration, sizes: list[SizeHeel], number: int
) -> list[Asked]:
    """Ask anybody of any size to knit rounds that a designer would allow.

    That is from one below to one above whatever lies between today's table and the geometry's.
    """
    asked: list[Asked] = []
    for place in rng.integers(len(sizes), size=number).tolist():
        size = sizes[place]
        ends = sorted((size.slow_decrease_rounds, round(geometry_asks(size))))
        low, high = max(ends[0] - 1, 0), min(ends[1] + 1, size.most)
        asked.append((place, None, int(rng.integers(low, high + 1))))
    return asked


STRATEGIES: dict[str, Strategy] = {
    "ours": planned,
    "determinant": determinant,
    "random": at_random,
}


def volunteer(
    rng: np.random.Generator, feet: Socks, wanted: dict[str, float] | None, among: int = 30
) -> int:
    """Return whose foot comes nearest to what is looked for, of some who would knit for it."""
    there = rng.integers(len(feet["foot_length_mm"]), size=among)
    if wanted is None:
        return int(there[0])
    away = sum(((feet[name][there] - value) / _SCALE[name]) ** 2 for name, value in wanted.items())
    return int(there[np.argmin(away)])


_SCALE = {
    "foot_length_mm": 5.0,
    "foot_circumference_mm": 6.0,
    "heel_diagonal_mm": 9.0,
    "ankle_circumference_mm": 12.0,
}
"""About one sd of each measurement inside a size, in mm."""
