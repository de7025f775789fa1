"""What a wider pool of groups says, beside the geometry and a group's own reports.

The pool's estimates enter as a factor of their own, and the average over beliefs is taken over
twice as many: each belief with the pool speaking of this group, and each with it speaking of others
only. Both are weighed by how likely they make the group's reports and the pool's estimates
together, so a pool of groups unlike this one is soon left alone. The scales of reporters' offsets,
of gross errors and of blocks of terms are learned from the group's own reports.

References
----------
Schmidli, H. and others (2014). Robust meta-analytic-predictive priors in clinical trials with
historical control information. Biometrics 70, 1023-1032 (from memory): the mixture of a prior from
other trials with one that knows nothing of them.

"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log
from typing import Any, Final

import numpy as np
from scipy.special import logsumexp

from models.learning.beliefs import BELIEFS, Believed, averaged, mixture, under
from models.learning.factor import Factor
from models.learning.ordinal.arrays import Floats
from models.learning.terms import PRIOR_MEANS, PRIOR_SDS

APPLIES: Final = 0.3
"""Chance, before a group's own reports, that the wider pool speaks of it.

Tuned, with the numbers of `models.learning.pooling`, on seeds 100 to 106 of the worlds of
`.bench/decisions`.
"""


@dataclass(frozen=True)
class Wider:
    """What so many groups with so many people say together of one group more."""

    factor: Factor
    groups: int
    people: int

    def to_json(self) -> dict[str, Any]:
        """Return everything as JSON values; `from_json` gives it back."""
        return {"groups": self.groups, "people": self.people, **self.factor.to_json()}

    def says_the_same_as(self, other: Wider | None) -> bool:
        """Return whether another one says the same, to the bit."""
        return other is not None and self.to_json() == other.to_json()

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> Wider:
        """Return what `to_json` described."""
        return cls(Factor.from_json(stored), stored["groups"], stored["people"])


def averaged_beside(wider: Wider | None, mean: Floats, covariance: Floats) -> tuple[Floats, Floats]:
    """Return mean (P,) and covariance (P, P) averaged over all beliefs, with or without a pool.

    Those given are what the group's own reports make of the widest belief
    (`models.learning.beliefs`).
    """
    if wider is None:
        return averaged(mean, covariance)
    apart = log((1 - APPLIES) / APPLIES) + _density_of_others(wider.factor)
    without = [under(belief, mean, covariance) for belief in BELIEFS]
    return mixture(
        mean,
        [
            *_spoken_of(wider.factor, mean, covariance),
            *((evidence + apart, away, narrow) for evidence, away, narrow in without),
        ],
    )


def _spoken_of(factor: Factor, mean: Floats, covariance: Floats) -> list[Believed]:
    """Return every belief once the estimates have been taken for this group's own terms.

    The evidence is that of reports and estimates together, without the chance that they apply.
    """
    density, joined_mean, joined = factor.beside(mean, covariance)
    found = [under(belief, joined_mean, joined) for belief in BELIEFS]
    return [
        (density + evidence, joined_mean - mean + away, narrow) for evidence, away, narrow in found
    ]


def _density_of_others(factor: Factor) -> float:
    """Return how likely the geometry makes the estimates, were they other groups' alone."""
    believed = _spoken_of(factor, PRIOR_MEANS, np.diag(PRIOR_SDS**2))
    return float(logsumexp([evidence for evidence, _, _ in believed]))
