"""What reports say of each term by themselves, apart from any belief.

A Gaussian posterior is a belief times what the rows say. With the belief divided out, figures of
several groups can be put together, and with a belief of one's own, and nothing counts twice. How
terms move together is left out: thousands of such figures would tell who took part.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from models.learning.ordinal.arrays import Floats

_LEAST_GAIN = 1e-6
"""Share by which a precision must have grown for anything to have been said."""


@dataclass(frozen=True)
class Factor:
    """An estimate of each of `TERM_NAMES` (P,) with its precision (P,), 0 where nothing is said.

    Estimates are in latent units per unit of the term; a precision is one over the squared
    standard error.
    """

    precision: Floats
    estimate: Floats

    def to_json(self) -> dict[str, Any]:
        """Return both as JSON values; `from_json` gives them back."""
        return {"precision": self.precision.tolist(), "estimate": self.estimate.tolist()}

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> Factor:
        """Return what `to_json` described."""
        return cls(np.array(stored["precision"]), np.array(stored["estimate"]))

    def beside(self, mean: Floats, covariance: Floats) -> tuple[float, Floats, Floats]:
        """Return how likely a Gaussian belief makes the estimates, and what it becomes by them.

        Parameters
        ----------
        mean, covariance : arrays (P,), (P, P)
            The belief.

        Returns
        -------
        log_density, mean, covariance
            The first in nats, without the factors of 2 pi.

        """
        widened = np.eye(len(mean)) + covariance * self.precision
        pull = self.precision[:, None] * np.linalg.inv(widened)
        away = self.estimate - mean
        log_density = np.sum(np.log(self.precision[self.precision > 0]))
        log_density -= np.linalg.slogdet(widened)[1] + away @ pull @ away
        narrow = covariance - covariance @ pull @ covariance
        return float(log_density / 2), mean + covariance @ pull @ away, (narrow + narrow.T) / 2


def alone(mean: Floats, covariance: Floats, prior_mean: Floats, prior_sd: Floats) -> Factor:
    """Return what is left of a posterior, term by term, once the prior is divided out.

    Parameters
    ----------
    mean, covariance : arrays (P,), (P, P)
        The posterior.
    prior_mean, prior_sd : arrays (P,)
        The prior that it began with, terms independent.

    """
    after, before = 1.0 / np.diag(covariance), 1.0 / np.square(prior_sd)
    precision = np.where(after > before * (1 + _LEAST_GAIN), after - before, 0.0)
    pull = after * mean - before * prior_mean
    estimate = np.divide(pull, precision, out=np.zeros_like(pull), where=precision > 0)
    return Factor(precision, estimate)
