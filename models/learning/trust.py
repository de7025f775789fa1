"""Trust in the geometry, averaged over whether it holds or may be beside the point.

The regression gives the ideal depth's own term the wide belief of a geometry that may not hold. A
Gaussian posterior under one Gaussian belief is one under any other, up to arithmetic on that single
term, so the belief that it does hold costs no second fit. Each counts by its evidence: few reports
leave the geometry alone, and those that speak against it are not held back.

References
----------
Mitchell, T. and Beauchamp, J. (1988). Bayesian variable selection in linear regression. JASA 83,
1023-1032 (from memory): the spike and the slab.

"""

from __future__ import annotations

from math import log
from typing import Final

import numpy as np
from scipy.special import expit

from models.learning.ordinal.arrays import Floats
from models.learning.terms import TERM_NAMES, TRUST

HOLDS: Final = 0.65
"""Chance before any report that the geometry holds."""

SD_IF_IT_HOLDS: Final = 0.25
"""Prior sd of the ideal depth's own term if so; else it is that of `terms.TRUST`."""

_TERM = TERM_NAMES.index(TRUST.names[0])


def averaged(mean: Floats, covariance: Floats) -> tuple[Floats, Floats]:
    """Return mean (P,) and covariance (P, P) of the terms, whether the geometry holds or not.

    Those given are believed where it may not hold: with the prior sd of `terms.TRUST`.
    """
    shared, value = covariance[_TERM], float(mean[_TERM])
    more = 1.0 / SD_IF_IT_HOLDS**2 - 1.0 / TRUST.sd**2
    pull = more / (1.0 + more * float(shared[_TERM]))
    holds = _chance(pull / more, pull * value**2)
    away = -pull * value * shared
    inside = covariance - holds * pull * np.outer(shared, shared)
    return mean + holds * away, inside + holds * (1.0 - holds) * np.outer(away, away)


def _chance(narrowed: float, distance: float) -> float:
    """Return the chance that the geometry holds.

    `narrowed` is the term's variance if it holds over that if it may not, `distance` the squared
    distance of its value from 0 in sds of the difference of the two beliefs.
    """
    odds = log(HOLDS / (1.0 - HOLDS)) + log(TRUST.sd / SD_IF_IT_HOLDS)
    return float(expit(odds + 0.5 * log(narrowed) - 0.5 * distance))
