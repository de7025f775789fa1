"""Several groups' summaries, put together as what they say of one group more.

Groups differ in level and in what moves them: `beta_g = mu + u_g`. The variance of `u_g` is learned
for each term from how far apart the groups' estimates lie, and held near what is believed before
any group is seen. What the groups say of one more is their weighted mean, with the mean's variance
and once more that of `u`. The group's offset is the `u` of the intercept.

References
----------
DerSimonian, R. and Laird, N. (1986). Meta-analysis in clinical trials. Controlled Clinical Trials
7, 177-188 (from memory): the variance between studies by moments.

"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from models.learning.factor import Factor
from models.learning.ordinal.arrays import Floats
from models.learning.summary import Summary
from models.learning.terms import INTERCEPT, PRIOR_SDS, TERM_NAMES
from models.learning.wider import Wider

OFFSET_SD, EFFECT_SHARE = 0.3, 0.25
"""Sd (latent) of groups' offsets before any group is seen, and that of a term's group effects as a
share of the sd that geometry leaves the term."""

GROUPS = 4.0
"""How many further groups that belief is worth."""


def believed_variance() -> Floats:
    """Return the variance (P,) of group effects before any group is seen."""
    sd = EFFECT_SHARE * PRIOR_SDS
    sd[TERM_NAMES.index(INTERCEPT)] = OFFSET_SD
    return np.asarray(np.square(sd))


def pooled(summaries: Sequence[Summary]) -> Wider | None:
    """Return what groups say together of one more, or None where there are none.

    The order of the summaries makes no difference to the bit.
    """
    if not summaries:
        return None
    ordered = sorted(summaries, key=lambda one: one.origin)
    precision, estimate = (
        np.array([getattr(one.factor, what) for one in ordered])
        for what in ("precision", "estimate")
    )
    terms = [
        _of_one_more(*column)
        for column in zip(estimate.T, precision.T, believed_variance(), strict=True)
    ]
    said = Factor(*(np.array(values) for values in zip(*terms, strict=True)))
    return Wider(said, len(ordered), sum(one.people for one in ordered))


def between_variance(estimates: Floats, variances: Floats) -> float:
    """Return the variance between groups by moments, from estimates (G,) and their variances."""
    weight = 1 / variances
    centre = float(weight @ estimates / weight.sum())
    q = float(weight @ np.square(estimates - centre))
    scale = float(weight.sum() - weight @ weight / weight.sum())
    return max(0.0, (q - (len(estimates) - 1)) / scale)


def group_variance(estimates: Floats, variances: Floats, believed: float) -> float:
    """Return the variance of group effects: what the groups show, with what was believed."""
    free = len(estimates) - 1
    seen = between_variance(estimates, variances) if free else 0.0
    return (GROUPS * believed + free * seen) / (GROUPS + free)


def _of_one_more(estimate: Floats, precision: Floats, believed: float) -> tuple[float, float]:
    """Return precision and estimate of a term in one more group."""
    known = precision > 0
    if not known.any():
        return 0.0, 0.0
    estimates, variances = estimate[known], 1 / precision[known]
    between = group_variance(estimates, variances, believed)
    weight = 1 / (variances + between)
    return 1 / (1 / float(weight.sum()) + between), float(weight @ estimates / weight.sum())
