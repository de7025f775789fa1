"""Beliefs of how far needs depart from the geometry, averaged by what the reports say of each.

The regression starts from the widest belief. A Gaussian posterior under one Gaussian belief is one
under any other, up to arithmetic on the terms that they differ in, so narrower ones cost no second
fit. Each counts by its evidence: few reports leave the geometry alone, and those that speak against
it are not held back. The numbers were tuned where those of `models.learning.terms` were.

References
----------
Mitchell, T. and Beauchamp, J. (1988). Bayesian variable selection in linear regression. JASA 83,
1023-1032 (from memory): the spike and the slab.
Hoeting, J. and others (1999). Bayesian model averaging: a tutorial. Statist. Sci. 14, 382-417 (from
memory).

"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import softmax

from models.learning.ordinal.arrays import Floats
from models.learning.terms import SHAPE, TERM_NAMES, TRUST, YARN

_TRUST: Final = ((0.65, 0.25), (0.35, TRUST.sd))
"""Chance that the geometry holds or may not, each with the prior sd of the ideal depth's term."""

_DEPARTURES: Final = ((0.35, 0.06, 0.12), (0.40, 0.15, 0.30), (0.25, SHAPE.sd, YARN.sd))
"""Chance that needs depart little, some or much from it, with the prior sds of shape and yarn."""

_BLOCKS = (TRUST, SHAPE, YARN)
TERMS = np.array([TERM_NAMES.index(name) for block in _BLOCKS for name in block.names])
"""The terms that beliefs differ in; each has prior mean 0."""


@dataclass(frozen=True)
class Belief:
    """A chance before any report, and the prior sds of `TERMS` that go with it."""

    chance: float
    sds: Floats


def _sds(*of_blocks: float) -> Floats:
    return np.repeat(of_blocks, [len(block.names) for block in _BLOCKS])


WIDEST = _sds(*(block.sd for block in _BLOCKS))
"""The prior sds of `TERMS` that the regression starts from."""

BELIEFS = tuple(
    Belief(chance * share, _sds(trust, shape, yarn))
    for chance, trust in _TRUST
    for share, shape, yarn in _DEPARTURES
)


Believed = tuple[float, Floats, Floats]
"""Log evidence of a belief, how far the mean moves under it, and the covariance."""


def averaged(mean: Floats, covariance: Floats) -> tuple[Floats, Floats]:
    """Return mean (P,) and covariance (P, P) of the terms, averaged over all beliefs.

    Those given are believed under `WIDEST`.
    """
    return mixture(mean, [under(belief, mean, covariance) for belief in BELIEFS])


def mixture(mean: Floats, found: Sequence[Believed]) -> tuple[Floats, Floats]:
    """Return mean (P,) and covariance (P, P) of beliefs weighed by their evidence."""
    weights = softmax([evidence for evidence, _, _ in found])
    away = sum(w * moved for w, (_, moved, _) in zip(weights, found, strict=True))
    inside = sum(w * narrow for w, (_, _, narrow) in zip(weights, found, strict=True))
    apart = np.array([moved - away for _, moved, _ in found])
    return mean + away, inside + (weights[:, None] * apart).T @ apart


def under(belief: Belief, mean: Floats, covariance: Floats) -> Believed:
    """Return log evidence, how far the mean moves, and the covariance under a belief.

    The evidence counts the belief's chance in and leaves out what all have in common.
    """
    shared, inner = covariance[:, TERMS], covariance[np.ix_(TERMS, TERMS)]
    more = 1.0 / np.square(belief.sds) - 1.0 / np.square(WIDEST)
    # Those that stay as wide have no more precision, so it is not inverted.
    widened = np.eye(len(TERMS)) + inner * more
    pull = more[:, None] * np.linalg.inv(widened)
    evidence = np.log(belief.chance) + np.sum(np.log(WIDEST / belief.sds))
    evidence -= 0.5 * (np.linalg.slogdet(widened)[1] + mean[TERMS] @ pull @ mean[TERMS])
    narrow = covariance - shared @ pull @ shared.T
    return float(evidence), -shared @ pull @ mean[TERMS], 0.5 * (narrow + narrow.T)
