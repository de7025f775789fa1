"""Laplace posterior of a fitted model, and what it predicts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.learning.ordinal.arrays import Floats
from models.learning.ordinal.links import LINKS
from models.learning.ordinal.thresholds import threshold_slopes, thresholds_from_gaps


@dataclass(frozen=True)
class LaplacePosterior:
    """Gaussian posterior over intercept, coefficients and log gaps, with the offsets' sd.

    Attributes
    ----------
    link : str
        Key of `models.learning.ordinal.links.LINKS`.
    mean, covariance : arrays (P,), (P, P)
        In latent units; the intercept comes first, the K-2 log gaps last.
    n_coefficients : int
        Intercept and slopes together.
    offset_sd : float
        Sd of reporter offsets, latent units; zero without offsets.

    """

    link: str
    mean: Floats
    covariance: Floats
    n_coefficients: int
    offset_sd: float

    @property
    def thresholds(self) -> Floats:
        """Thresholds (K-1,) in latent units, centred; the intercept carries location."""
        return thresholds_from_gaps(self.mean[self.n_coefficients :])

    def latent(self, design: Floats) -> tuple[Floats, Floats]:
        """Return mean and variance (n,) of the population's latent fit at designs (n, p)."""
        p = self.n_coefficients
        inner = self.covariance[:p, :p]
        return design @ self.mean[:p], np.einsum("ij,jk,ik->i", design, inner, design)

    def cumulative(
        self, design: Floats, noise_sd: Floats, offset: Floats, offset_variance: Floats
    ) -> Floats:
        """Return P(category <= j), shape (n, K-1), posterior and offsets integrated out.

        Parameters
        ----------
        design : array (n, p)
            Intercept first.
        noise_sd, offset, offset_variance : arrays (n,)
            Per-row noise, and mean and variance of the reporter's offset.

        """
        p, slopes = self.n_coefficients, threshold_slopes(self.mean[self.n_coefficients :])
        centre, spread = self.latent(design)
        gap_variance = np.einsum("jk,kl,jl->j", slopes, self.covariance[p:, p:], slopes)
        shared = design @ self.covariance[:p, p:] @ slopes.T
        variance = spread[:, None] + gap_variance[None, :] - 2.0 * shared
        distance = self.thresholds[None, :] - (centre + offset)[:, None]
        total = np.maximum(variance, 0.0) + offset_variance[:, None]
        return LINKS[self.link].averaged(distance, np.square(noise_sd)[:, None], total)
