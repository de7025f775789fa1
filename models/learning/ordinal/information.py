"""Curvature of the log likelihood in the latent position and the thresholds.

The likelihood depends on differences `theta_j - eta` only, and each category touches two
neighbouring thresholds, so a row's curvature is one tridiagonal matrix over the thresholds.
All blocks with the latent position are its row sums.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.learning.ordinal.arrays import Floats, Integers
from models.learning.ordinal.likelihood import Noise, RowTerms


@dataclass(frozen=True)
class RowCurvature:
    """Tridiagonal curvature of each row: diagonal (n, K-1) and off-diagonal (n, K-2)."""

    diagonal: Floats
    off_diagonal: Floats

    @property
    def position_threshold(self) -> Floats:
        """Block between latent position and thresholds, shape (n, K-1)."""
        total = self.diagonal.copy()
        total[:, :-1] += self.off_diagonal
        total[:, 1:] += self.off_diagonal
        return -total

    def threshold_threshold(self) -> Floats:
        """Block of the thresholds, summed over the rows, shape (K-1, K-1)."""
        beside = self.off_diagonal.sum(axis=0)
        return np.asarray(
            np.diag(self.diagonal.sum(axis=0)) + np.diag(beside, 1) + np.diag(beside, -1)
        )


def expected_curvature(
    noise: Noise, thresholds: Floats, eta: Floats, weight: Floats
) -> RowCurvature:
    """Return the Fisher information of each row; never negative, whatever the contamination."""
    limits = (thresholds[None, :] - eta[:, None]) / noise.sd[:, None]
    keep = 1.0 - noise.contamination
    below = noise.link.cumulative(limits)
    edges = np.hstack([np.zeros((len(eta), 1)), below, np.ones((len(eta), 1))])
    chance = keep * np.diff(edges, axis=1) + noise.contamination / (len(thresholds) + 1)
    inverse = 1.0 / np.maximum(chance, 1e-12)
    slope = keep * noise.link.density(limits)[0] / noise.sd[:, None]
    return RowCurvature(
        diagonal=weight[:, None] * slope**2 * (inverse[:, :-1] + inverse[:, 1:]),
        off_diagonal=-weight[:, None] * slope[:, :-1] * slope[:, 1:] * inverse[:, 1:-1],
    )


def observed_curvature(terms: RowTerms, category: Integers, n_categories: int) -> RowCurvature:
    """Return minus the second derivatives of each row's own log likelihood."""
    n, rows = len(category), np.arange(len(category))
    diagonal = np.zeros((n, n_categories + 1))
    diagonal[rows, category + 1] = -terms.upper2
    diagonal[rows, category] -= terms.lower2
    off = np.zeros((n, n_categories))
    off[rows, category] = -terms.mixed
    # The first and last columns belong to the infinite limits, which never move.
    return RowCurvature(diagonal[:, 1:-1], off[:, 1:-1])


def threshold_score(terms: RowTerms, category: Integers, n_categories: int) -> Floats:
    """Return the first derivative of the log likelihood by each threshold, shape (K-1,)."""
    by_upper = np.bincount(category, weights=terms.upper, minlength=n_categories)
    by_lower = np.bincount(category, weights=terms.lower, minlength=n_categories)
    return np.asarray(by_upper[:-1] + by_lower[1:], dtype=np.float64)
