"""The numeric part of a suggestion, from plain figures alone.

The chance of "just right" at a depth is that of the latent fit lying between two thresholds, over
all that is not known: the coefficients, the thresholds, the offset and habit of who asks, the heel
diagonal where it was estimated, and the sock's own noise.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

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

    `limits` (2, 1, 1) are the ends of "just right", `limit_variance` (2, 1, 1) their variances and
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
    """Chances (S,) of a sock at some depths, or (n, S) of n, and where the expected fit is 0.

    `chances` are those of "just right", the others of a score below and above; the three sum to 1.
    `crossing` is in cm beyond the first depth; its interval is that of the depth such feet need on
    average.
    """

    chances: Column
    too_shallow: Column
    too_deep: Column
    crossing: Ratio


def unpacked(posterior: Posterior) -> Figures:
    """Return the figures that answer for a posterior."""
    p = len(COEFFICIENT_NAMES)
    log_widths, covariance = posterior.mean[p:], posterior.covariance
    slopes = threshold_slopes(log_widths)[1:3]
    return Figures(
        posterior.mean[:p],
        np.ascontiguousarray(covariance[:p, :p]),
        thresholds_from_gaps(log_widths)[1:3, None, None],
        np.diag(slopes @ covariance[p:, p:] @ slopes.T)[:, None, None],
        slopes @ covariance[p:, :p],
        posterior.noise_variance,
        posterior.misfit_variance,
    )


def decide(figures: Figures, sock: Column, steps: Column, ideal_sd: float) -> Decided:
    """Return the chances of one sock at some depths and where its expected fit is 0.

    `sock` (p,) and `ideal_sd` are a row of what `decide_all` takes.
    """
    found = decide_all(figures, sock[None], steps, np.array([ideal_sd]))
    many = found.crossing
    one = replace(
        many,
        numerator=float(many.numerator[0]),
        v_numerator=float(many.v_numerator[0]),
        covariance=float(many.covariance[0]),
    )
    return Decided(found.chances[0], found.too_shallow[0], found.too_deep[0], one)


def decide_all(figures: Figures, socks: Column, steps: Column, ideal_sd: Column) -> Decided:
    """Return, for each of n socks, the chances of some depths and where the expected fit is 0.

    Only the excess depth moves with the depth, so means are a line in it and variances a parabola.

    Parameters
    ----------
    figures : Figures
        What is believed.
    socks : array (n, p)
        The terms of each sock at its first depth.
    steps : array (S,)
        The depths, in cm beyond the first.
    ideal_sd : array (n,)
        Sd of the ideal depth (cm) where the heel diagonal was estimated, else 0.

    """
    slope, v_slope = float(figures.mean[_SLOPE]), float(figures.covariance[_SLOPE, _SLOPE])
    level, spread = socks @ figures.mean, socks @ figures.covariance
    tilt, squared_slope = spread[:, _SLOPE], slope**2 + v_slope
    unknown = np.vecdot(spread, socks) + squared_slope * ideal_sd**2
    shared = (figures.limit_cover @ socks.T)[..., None]
    shared = shared + figures.limit_cover[:, _SLOPE, None, None] * steps
    variance = (unknown + figures.noise_variance)[:, None]
    variance = variance + steps * (2 * tilt[:, None] + steps * v_slope)
    variance = variance + figures.limit_variance - 2 * shared
    below, above = ndtr((figures.limits - level[:, None] - slope * steps) / np.sqrt(variance))
    # Each limit has a variance of its own, so that far out they may cross by next to nothing.
    above = np.maximum(above, below)
    v_needed = unknown + squared_slope * figures.misfit_variance
    crossing = Ratio(-level, slope, v_needed, -tilt, v_slope)
    return Decided(above - below, below, 1 - above, crossing)
