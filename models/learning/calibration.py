"""A calibration: a fitted model with its evidence, as plain JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import sklearn

from models.domain.anthropometry import pooled
from models.domain.foot import MEASUREMENT_NAMES
from models.learning.estimator import NAME, Posterior, fit, prior
from models.learning.evidence import Evidence
from models.learning.terms import TERM_NAMES

FEWEST_REPORTERS_SHOWN = 10
"""No statistic of fewer people is kept or shown."""


@dataclass(frozen=True)
class Seen:
    """Mean and sd (mm) of each measurement, and the yarn weights, that a calibration rests on."""

    measurements: Mapping[str, tuple[float, float]]
    yarn_weights: tuple[int, ...]


@dataclass(frozen=True)
class Calibration:
    """A posterior with what it rests on."""

    posterior: Posterior
    reports: int
    reporters: int
    fingerprint: str
    seen: Seen

    def to_json(self) -> dict[str, Any]:
        """Return everything as JSON values; `from_json` gives the same calibration back."""
        return {
            "estimator": NAME,
            "scikit_learn": sklearn.__version__,
            "terms": list(TERM_NAMES),
            "mean": self.posterior.mean.tolist(),
            "covariance": self.posterior.covariance.tolist(),
            "noise_variance": self.posterior.noise_variance,
            "reports": self.reports,
            "reporters": self.reporters,
            "fingerprint": self.fingerprint,
            "seen": {
                "measurements": {k: list(v) for k, v in self.seen.measurements.items()},
                "yarn_weights": list(self.seen.yarn_weights),
            },
        }

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> Calibration:
        """Return the calibration that `to_json` described.

        Raises
        ------
        ValueError
            Where it was made with other terms than this version has: calibrate again.

        """
        if tuple(stored["terms"]) != TERM_NAMES:
            raise ValueError("this calibration has other terms than this version: calibrate again")
        seen = stored["seen"]
        return cls(
            Posterior(
                np.array(stored["mean"]), np.array(stored["covariance"]), stored["noise_variance"]
            ),
            stored["reports"],
            stored["reporters"],
            stored["fingerprint"],
            Seen(
                {name: (mean, sd) for name, (mean, sd) in seen["measurements"].items()},
                tuple(seen["yarn_weights"]),
            ),
        )


def calibrate(evidence: Evidence) -> Calibration:
    """Return the calibration of some evidence; without any, the geometry's own."""
    return Calibration(
        fit(evidence),
        evidence.reports,
        evidence.reporters,
        evidence.fingerprint(),
        _seen(evidence),
    )


def geometry_alone() -> Calibration:
    """Return what answers where a group has no calibration yet."""
    return Calibration(prior(), 0, 0, "", Seen(_survey(), ()))


def coefficients(calibration: Calibration) -> list[dict[str, Any]]:
    """Return each term's coefficient with its standard error, in score points per unit."""
    errors = np.sqrt(np.diag(calibration.posterior.covariance))
    return [
        {"term": name, "mean": float(mean), "standard_error": float(error)}
        for name, mean, error in zip(TERM_NAMES, calibration.posterior.mean, errors, strict=True)
    ]


def _seen(evidence: Evidence) -> Seen:
    if evidence.reporters < FEWEST_REPORTERS_SHOWN:
        return Seen(_survey(), ())
    figures = {}
    for name in MEASUREMENT_NAMES:
        taken = evidence.columns[name][~np.isnan(evidence.columns[name])]
        if len(taken) >= FEWEST_REPORTERS_SHOWN:
            figures[name] = (float(taken.mean()), float(taken.std()))
    weights = np.unique(evidence.columns["yarn_weight"]).astype(int)
    return Seen({**_survey(), **figures}, tuple(weights.tolist()))


def _survey() -> dict[str, tuple[float, float]]:
    means, covariances = pooled()
    return {name: (means[name], covariances[name][name] ** 0.5) for name in MEASUREMENT_NAMES}
