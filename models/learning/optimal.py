"""What one more observation would teach: criteria of optimal design, and Gaussian updates.

A design's information about p terms is a matrix; D asks for a large determinant (all terms known),
A for a small trace of the inverse, G and I for a small largest and mean variance of what is
predicted. Where a loss is quadratic in the terms, its expectation is half the trace of the loss's
matrix times the covariance: the I-criterion with another matrix.

References
----------
Kiefer and Wolfowitz 1960, Can. J. Math. 12:363. Lindley 1956, Ann. Math. Stat. 27:986. Chaloner and
Verdinelli 1995, Stat. Sci. 10:273 (all from memory).

"""

from __future__ import annotations

import numpy as np
from numpy.polynomial.hermite_e import hermegauss

from models.learning.evidence import Column
from models.learning.ordinal.information import expected_curvature
from models.learning.ordinal.likelihood import Noise

_NODES, _WEIGHTS = hermegauss(7)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


def moment_matrix(rows: Column, weight: Column) -> Column:
    """Return the information (p, p) of one observation on average, for weights that add up to 1."""
    return np.asarray(rows.T @ (weight[:, None] * rows))


def variances(covariance: Column, rows: Column) -> Column:
    """Return the variance (n,) of what is predicted at rows (n, p)."""
    return np.asarray(np.einsum("ij,jk,ik->i", rows, covariance, rows))


def d_criterion(information: Column) -> float:
    """Return the determinant's p-th root: larger is better."""
    sign, log_determinant = np.linalg.slogdet(information)
    return float(sign * np.exp(log_determinant / len(information)))


def a_criterion(information: Column) -> float:
    """Return the mean variance of the terms: smaller is better."""
    return float(np.trace(_inverse(information)) / len(information))


def i_criterion(information: Column, rows: Column, weight: Column) -> float:
    """Return the mean variance of what is predicted at weighted rows: smaller is better."""
    return float(np.dot(weight, variances(_inverse(information), rows)))


def g_efficiency(information: Column, candidates: Column) -> float:
    """Return p over the largest variance at any candidate, 1 for the best possible design."""
    return float(len(information) / variances(_inverse(information), candidates).max())


def location_information(noise: Noise, thresholds: Column, eta: Column) -> Column:
    """Return what one score tells (n,) about its latent position, in 1 / latent units squared."""
    curvature = expected_curvature(noise, thresholds, eta, np.ones(len(eta)))
    return np.asarray(-curvature.position_threshold.sum(axis=1))


def expected_information(noise: Noise, thresholds: Column, eta: Column, variance: Column) -> Column:
    """Return `location_information` (n,) averaged over positions known with a variance (n,).

    By Gauss-Hermite quadrature. `noise.sd` must be the same for all rows.
    """
    places = eta[:, None] + np.sqrt(variance)[:, None] * _NODES
    wide = Noise(noise.link, noise.contamination, np.full(places.size, noise.sd[0]))
    found = location_information(wide, thresholds, places.ravel()).reshape(places.shape)
    return np.asarray(found @ _WEIGHTS)


def _inverse(information: Column) -> Column:
    return np.asarray(np.linalg.inv(information), dtype=np.float64)


def determinant_gain(covariance: Column, rows: Column, information: Column) -> Column:
    """Return by what one observation at each row (n, p) multiplies the information's determinant.

    The expected gain of information (Lindley), in nats, is half its logarithm.
    """
    return 1.0 + information * variances(covariance, rows)


def loss_reduction(covariance: Column, loss: Column, rows: Column, information: Column) -> Column:
    """Return by what one observation at each row (n, p) lowers `trace(loss @ covariance) / 2`."""
    spread = rows @ covariance
    taught = information * np.einsum("ij,jk,ik->i", spread, loss, spread)
    return np.asarray(0.5 * taught / (1.0 + information * np.einsum("ij,ij->i", spread, rows)))


def updated(covariance: Column, row: Column, information: float) -> Column:
    """Return the covariance after one observation at a row (p,) (Sherman and Morrison)."""
    spread = covariance @ row
    return covariance - np.outer(spread, spread) * (
        information / (1.0 + information * row @ spread)
    )
