"""The numeric part of a suggestion, from plain figures alone.

The chance of "just right" at a depth is that of the latent fit lying between two thresholds, over
all that is not known: the coefficients, the thresholds, the offset and habit of who asks, the heel
diagonal where it was estimated, and the sock's own noise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from models.learning.estimator import Posterior
from models.learning.evidence import Column
from models.learning.fieller import Ratio
from models.learning.ordinal.thresholds import threshold_slopes, thresholds_from_gaps
from models.learning.terms import COEFFICIENT_NAMES, EXCESS

_SLOPE = COEFFICIENT_NAMES.index(EXCESS)


@dataclass(frozen=True)
class Figures:
    """A posterior unpacked for answering: all that no question changes; p coefficients.

    `limits` (2, 1) are the ends of "just right", `limit_variance` (2, 1) their variances and
    `limit_cover` (2, p) their covariances with the coefficients.
    """

    mean: Column
    covariance: Column
    limits: Column
    limit_variance: Column
    limit_cover: Column
    noise_variance: float
    misfit_variance: float


@dataclass(frozen=True)
class Decided:
    """Chances (S,) of "just right", and where the expected fit is 0 in cm beyond the first depth.

    The interval of `crossing` is that of the depth such feet need on average.
    """

    chances: Column
    crossing: Ratio


def unpacked(posterior: Posterior) -> Figures:
    """Return the figures that answer for a posterior."""
    p = len(COEFFICIENT_NAMES)
    log_widths, covariance = posterior.mean[p:], posterior.covariance
    slopes = threshold_slopes(log_widths)[1:3]
    return Figures(
        posterior.mean[:p],
        np.ascontiguousarray(covariance[:p, :p]),
        thresholds_from_gaps(log_widths)[1:3, None],
        np.diag(slopes @ covariance[p:, p:] @ slopes.T)[:, None],
        slopes @ covariance[p:, :p],
        posterior.noise_variance,
        posterior.misfit_variance,
    )


def decide(figures: Figures, sock: Column, steps: Column, ideal_sd: float) -> Decided:
    """Return the chances of some depths and where the expected fit is 0.

    Only the excess depth moves with the depth, so means are a line in it and variances a parabola.

    Parameters
    ----------
    figures : Figures
        What is believed.
    sock : array (p,)
        The terms of the sock at its first depth.
    steps : array (S,)
        The depths, in cm beyond the first.
    ideal_sd : float
        Sd of the ideal depth (cm) where the heel diagonal was estimated, else 0.

    """
    slope, v_slope = float(figures.mean[_SLOPE]), float(figures.covariance[_SLOPE, _SLOPE])
    level = float(figures.mean @ sock)
    spread = figures.covariance @ sock
    v_level, tilt = float(spread @ sock), float(spread[_SLOPE])
    squared_slope = slope**2 + v_slope
    unknown = v_level + squared_slope * ideal_sd**2 + figures.noise_variance
    shared = (figures.limit_cover @ sock)[:, None] + figures.limit_cover[:, _SLOPE, None] * steps
    variance = unknown + steps * (2 * tilt + steps * v_slope) + figures.limit_variance - 2 * shared
    below, above = ndtr((figures.limits - level - slope * steps) / np.sqrt(variance))
    v_needed = v_level + squared_slope * (ideal_sd**2 + figures.misfit_variance)
    return Decided(above - below, Ratio(-level, slope, v_needed, -tilt, v_slope))
