"""Log likelihood of each report under a cumulative model, with derivatives by its two limits.

A report in category j has the chance `(1-eps)*(F(upper)-F(lower)) + eps/K`, with
`upper = (theta_j - eta)/sigma` and `lower = (theta_{j-1} - eta)/sigma`. Everything that
the fit needs follows from derivatives by those two limits.

References
----------
Pratt, J. (1981). Concavity of the log likelihood. JASA 76, 103-106 (from memory).

"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.learning.ordinal.arrays import Floats, Integers
from models.learning.ordinal.links import Link

# Stands for an infinite threshold: large enough for any noise, small enough to square.
_OUTERMOST = 1e8
_LEAST_CHANCE = 1e-290


@dataclass(frozen=True)
class Noise:
    """What blurs a score: the link, the share of gross errors, the sd per row (latent units)."""

    link: Link
    contamination: float
    sd: Floats


@dataclass(frozen=True)
class RowTerms:
    """Weighted log likelihood of each row and its derivatives by the upper and lower limit.

    `upper3` and `lower3` are the derivatives, by each limit, of the second derivative
    by the latent position; the Laplace determinant moves with them.
    """

    log_chance: Floats
    upper: Floats
    lower: Floats
    upper2: Floats
    mixed: Floats
    lower2: Floats
    upper3: Floats
    lower3: Floats

    @property
    def position(self) -> Floats:
        """First derivative by the latent position eta."""
        return -(self.upper + self.lower)

    @property
    def curvature(self) -> Floats:
        """Minus the second derivative by the latent position eta."""
        return -(self.upper2 + 2.0 * self.mixed + self.lower2)


@dataclass(frozen=True)
class _Limits:
    """Chance of each row, floored, with derivatives over the chance at its two limits.

    `up` and `low` hold the first, second and third derivative of the chance by the upper
    and the lower limit, each divided by the chance.
    """

    chance: Floats
    up: tuple[Floats, Floats, Floats]
    low: tuple[Floats, Floats, Floats]


def chances(noise: Noise, thresholds: Floats, eta: Floats, category: Integers) -> Floats:
    """Return the chance (n,) of each row's category, floored, at latent positions `eta` (n,)."""
    return _chances(noise, len(thresholds) + 1, *_edges(noise, thresholds, eta, category))


def _edges(
    noise: Noise, thresholds: Floats, eta: Floats, category: Integers
) -> tuple[Floats, Floats]:
    """Return the upper and the lower limit of each row's category, in sds of its noise."""
    ends = np.concatenate(([-_OUTERMOST], thresholds, [_OUTERMOST]))
    return (ends[category + 1] - eta) / noise.sd, (ends[category] - eta) / noise.sd


def _chances(noise: Noise, n_categories: int, above: Floats, below: Floats) -> Floats:
    # The mirror image avoids subtracting two numbers close to one in the upper tail.
    flip = np.where(below > 0.0, -1.0, 1.0)
    inside = flip * (noise.link.cumulative(flip * above) - noise.link.cumulative(flip * below))
    mixed = (1.0 - noise.contamination) * inside + noise.contamination / n_categories
    return np.asarray(np.maximum(mixed, _LEAST_CHANCE))


def _limits(noise: Noise, thresholds: Floats, eta: Floats, category: Integers) -> _Limits:
    above, below = _edges(noise, thresholds, eta, category)
    chance = _chances(noise, len(thresholds) + 1, above, below)
    ratio = (1.0 - noise.contamination) / chance
    up1, up2, up3 = noise.link.density(above)
    low1, low2, low3 = noise.link.density(below)
    return _Limits(
        chance,
        (ratio * up1, ratio * up2, ratio * up3),
        (-ratio * low1, -ratio * low2, -ratio * low3),
    )


def position_terms(
    noise: Noise, thresholds: Floats, eta: Floats, category: Integers, weight: Floats
) -> tuple[Floats, Floats]:
    """Return each row's first derivative by eta, and minus its second; cheaper than all terms."""
    at = _limits(noise, thresholds, eta, category)
    slope = at.up[0] + at.low[0]
    bend = at.up[1] + at.low[1] - slope**2
    return -weight / noise.sd * slope, -weight / noise.sd**2 * bend


def row_terms(
    noise: Noise, thresholds: Floats, eta: Floats, category: Integers, weight: Floats
) -> RowTerms:
    """Evaluate `RowTerms` for `n` rows.

    Parameters
    ----------
    noise : Noise
        What blurs a score.
    thresholds : array (K-1,)
        Increasing, in latent units.
    eta, category, weight : arrays (n,)
        Latent position, category index 0..K-1 and weight of each row.

    """
    at = _limits(noise, thresholds, eta, category)
    up, low = at.up, at.low
    total1, total2 = up[0] + low[0], up[1] + low[1]
    by1, by2, by3 = weight / noise.sd, weight / noise.sd**2, weight / noise.sd**3
    bend = 2.0 * total1**2 - total2
    return RowTerms(
        log_chance=weight * np.log(at.chance),
        upper=by1 * up[0],
        lower=by1 * low[0],
        upper2=by2 * (up[1] - up[0] ** 2),
        mixed=-by2 * up[0] * low[0],
        lower2=by2 * (low[1] - low[0] ** 2),
        upper3=by3 * (up[2] - 2.0 * total1 * up[1] + bend * up[0]),
        lower3=by3 * (low[2] - 2.0 * total1 * low[1] + bend * low[0]),
    )
