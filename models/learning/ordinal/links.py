"""Noise distributions of the latent fit, with the derivatives that the Laplace method needs.

References
----------
McCullagh, P. (1980). Regression models for ordinal data. JRSS B 42, 109-142 (from memory).
MacKay, D. (1992). The evidence framework applied to classification networks. Neural
Computation 4, 720-736 (from memory): the logistic average over a Gaussian.

"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from scipy.special import expit, ndtr

from models.learning.ordinal.arrays import Floats

_ROOT_TWO_PI = float(np.sqrt(2.0 * np.pi))


class Link(Protocol):
    """A symmetric noise distribution: cumulative chance, density and two derivatives."""

    def cumulative(self, x: Floats) -> Floats:
        """Chance of a noise below `x`."""

    def density(self, x: Floats) -> tuple[Floats, Floats, Floats]:
        """Density at `x`, its first and its second derivative."""

    def averaged(self, x: Floats, noise_variance: Floats, spread_variance: Floats) -> Floats:
        """Cumulative chance at `x` averaged over a Gaussian `x`; variances in latent units."""


class Probit:
    """Standard normal noise."""

    def cumulative(self, x: Floats) -> Floats:
        """See `Link`."""
        return np.asarray(ndtr(x), dtype=np.float64)

    def density(self, x: Floats) -> tuple[Floats, Floats, Floats]:
        """See `Link`."""
        f = np.exp(-0.5 * np.square(x)) / _ROOT_TWO_PI
        return f, -x * f, (np.square(x) - 1.0) * f

    def averaged(self, x: Floats, noise_variance: Floats, spread_variance: Floats) -> Floats:
        """See `Link`; exact."""
        return self.cumulative(x / np.sqrt(noise_variance + spread_variance))


class Logit:
    """Standard logistic noise (proportional odds)."""

    def cumulative(self, x: Floats) -> Floats:
        """See `Link`."""
        return np.asarray(expit(x), dtype=np.float64)

    def density(self, x: Floats) -> tuple[Floats, Floats, Floats]:
        """See `Link`."""
        below = self.cumulative(x)
        f = below * self.cumulative(-x)
        return f, f * (1.0 - 2.0 * below), f * (1.0 - 6.0 * f)

    def averaged(self, x: Floats, noise_variance: Floats, spread_variance: Floats) -> Floats:
        """See `Link`; MacKay's approximation."""
        # A logistic averaged over a Gaussian is nearly a logistic of a shrunken argument.
        return self.cumulative(x / np.sqrt(noise_variance + np.pi * spread_variance / 8.0))


LINKS: dict[str, Link] = {"probit": Probit(), "logit": Logit()}
