"""What would narrow an answer most: the measurement that was not taken and tells most.

Measuring gives one of the values that the survey makes likely for such a foot. For each of them the
question is answered again, as if it had been measured, and the answers are averaged.

References
----------
Raiffa, H. and Schlaifer, R. (1961). Applied Statistical Decision Theory (from memory): the expected
value of sample information.

"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.hermite_e import hermegauss

from models.domain.anthropometry import estimate
from models.domain.foot import MEASUREMENT_NAMES, Foot
from models.learning.decide import Figures, decide_all
from models.learning.design import Design, design_of
from models.learning.needed import in_rounds, needed
from models.learning.question import Prepared, completed

LEAST_ROUNDS, LEAST_CHANCE = 0.1, 0.005
"""Gains in range width (slow-decrease rounds) and chance below which measuring changes nothing."""

_NODES, _WEIGHTS = hermegauss(9)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True)
class Expected:
    """Width of the unrounded 80 % range, in slow-decrease rounds, and the best chance there is."""

    range_rounds: float
    chance: float


@dataclass(frozen=True)
class Worth:
    """A measurement with what an answer is like now, and what to expect once it is taken."""

    measurement: str
    now: Expected
    then: Expected

    @property
    def narrows(self) -> float:
        """How many slow-decrease rounds narrower the range becomes."""
        return self.now.range_rounds - self.then.range_rounds

    @property
    def matters(self) -> bool:
        """Whether measuring changes anything that can be told from nothing."""
        gain = self.then.chance - self.now.chance
        return self.narrows >= LEAST_ROUNDS or gain >= LEAST_CHANCE


def worth_measuring(figures: Figures, foot: Foot, asked: Prepared, now: Expected) -> Worth | None:
    """Return the measurement that narrows an answer most, or None where none would.

    Parameters
    ----------
    figures : Figures
        What is believed; the slope's sign must be established.
    foot : Foot
        The measurements that were taken, mm.
    asked : Prepared
        The question.
    now : Expected
        Its answer as things are.

    """
    missing = [name for name in MEASUREMENT_NAMES if name not in foot]
    found = [Worth(name, now, expected_after(figures, foot, asked, name)) for name in missing]
    mattering = [worth for worth in found if worth.matters]
    return max(mattering, key=lambda worth: worth.narrows, default=None)


def expected_after(figures: Figures, foot: Foot, asked: Prepared, measurement: str) -> Expected:
    """Return what to expect of the answer once a measurement is taken, by Gaussian quadrature."""
    socks = _socks(foot, asked, measurement)
    depths = asked.asked_mm
    decided = decide_all(figures, socks.terms, (depths - depths[0]) / 10, socks.ideal_sd)
    such_feet = needed(decided.crossing, float(depths[0]))
    if such_feet is None:
        raise AssertionError("whether the slope is established does not depend on the sock")
    low, high = in_rounds(np.array(such_feet.range_mm), depths)
    best = decided.chances.max(axis=1)
    return Expected(float(_WEIGHTS @ (high - low)), float(_WEIGHTS @ best))


def _socks(foot: Foot, asked: Prepared, measurement: str) -> Design:
    """Return the sock for each value that measuring may give, one a node."""
    likely = estimate(measurement, foot)
    complete, diagonal = completed({**foot, measurement: likely.value + likely.sd * _NODES})
    return design_of({**asked.fixed, **complete}, np.full(len(_NODES), diagonal.sd))
