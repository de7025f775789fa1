"""A calibration: a fitted model with its evidence, as plain JSON."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property, partial
from importlib.metadata import version
from typing import Any

import numpy as np

from models.domain.anthropometry import pooled
from models.domain.errors import Outdated
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.quantities import STITCHES_PER_10CM
from models.domain.yarn import YARN_WEIGHTS
from models.learning.decide import Figures, unpacked
from models.learning.estimator import NAME, Offsets, Posterior, learn_blocks, prior
from models.learning.evidence import Column, Evidence, people
from models.learning.evidence_blocks import EvidenceBlocks
from models.learning.factor import Factor
from models.learning.ordinal.blocks import added
from models.learning.summary import FEWEST_PEOPLE
from models.learning.terms import TERM_NAMES
from models.learning.wider import Wider

FEWEST_REPORTERS_SHOWN = 10
"""No statistic of fewer people is kept or shown."""

_SCALES = ("offset_sd", "habit_variance", "misfit_variance", "contamination")
_DESCRIBED = (*MEASUREMENT_NAMES, STITCHES_PER_10CM.name)


@dataclass(frozen=True)
class Seen:
    """Mean and sd of what a calibration rests on, by column, and its yarn weights.

    Where fewer than ten people stand behind a figure, the survey's takes its place, or there is
    none.
    """

    figures: Mapping[str, tuple[float, float]]
    yarn_weights: tuple[int, ...]


@dataclass(frozen=True)
class Calibration:
    """A posterior with what it rests on.

    `wider` is the wider pool that it began with, None for the geometry alone; `alone` is what its
    own reports say by themselves, kept where 50 people or more reported. `outdated` marks the
    geometry that answers in place of a calibration of an older version.
    """

    posterior: Posterior
    reports: int
    reporters: int
    fingerprint: str
    seen: Seen
    wider: Wider | None = None
    alone: Factor | None = None
    outdated: bool = False

    @property
    def is_geometry(self) -> bool:
        """Whether neither reports nor a wider pool stand behind it."""
        return not self.reports and self.wider is None

    @cached_property
    def figures(self) -> Figures:
        """What answers questions, unpacked when the first is asked."""
        return unpacked(self.posterior)

    def to_json(self) -> dict[str, Any]:
        """Return everything as JSON values; `from_json` gives the same calibration back."""
        return {
            "estimator": NAME,
            "scikit_learn": version("scikit-learn"),
            "terms": list(TERM_NAMES),
            "mean": self.posterior.mean.tolist(),
            "covariance": self.posterior.covariance.tolist(),
            **{name: getattr(self.posterior, name) for name in _SCALES},
            "noise_variance": self.posterior.noise_variance,
            "reports": self.reports,
            "reporters": self.reporters,
            "fingerprint": self.fingerprint,
            "wider": None if self.wider is None else self.wider.to_json(),
            "alone": None if self.alone is None else self.alone.to_json(),
            "seen": {
                "figures": {name: list(figures) for name, figures in self.seen.figures.items()},
                "yarn_weights": list(self.seen.yarn_weights),
            },
        }

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> Calibration:
        """Return the calibration that `to_json` described.

        Raises
        ------
        Outdated
            Where another version of this project made it.

        """
        if (stored["estimator"], tuple(stored["terms"])) != (NAME, TERM_NAMES):
            raise Outdated("another version of heeldepth made this calibration: calibrate again")
        seen = stored["seen"]
        return cls(
            Posterior(
                np.array(stored["mean"]),
                np.array(stored["covariance"]),
                **{name: stored[name] for name in _SCALES},
            ),
            stored["reports"],
            stored["reporters"],
            stored["fingerprint"],
            Seen(
                {name: (mean, sd) for name, (mean, sd) in seen["figures"].items()},
                tuple(seen["yarn_weights"]),
            ),
            wider_of(stored),
            alone_of(stored),
        )


def wider_of(stored: Mapping[str, Any]) -> Wider | None:
    """Return the wider pool that a stored calibration began with, None for the geometry alone."""
    wider = stored.get("wider")
    return None if wider is None else Wider.from_json(wider)


def alone_of(stored: Mapping[str, Any]) -> Factor | None:
    """Return what a stored calibration's own reports say by themselves, None where not kept."""
    said = stored.get("alone")
    return None if said is None else Factor.from_json(said)


def calibrate(evidence: Evidence, wider: Wider | None = None) -> Calibration:
    """Return the calibration of some evidence; without any, that of what it begins with."""
    return calibrate_with_offsets(evidence, wider)[0]


def calibrate_with_offsets(
    evidence: Evidence, wider: Wider | None = None
) -> tuple[Calibration, Offsets]:
    """Return the calibration of some evidence, and what it found of each reporter."""
    return calibrate_blocks(EvidenceBlocks.whole(evidence), evidence.fingerprint(), wider)


def calibrate_blocks(
    evidence: EvidenceBlocks, of_rows: str, wider: Wider | None = None
) -> tuple[Calibration, Offsets]:
    """Return the calibration of evidence in blocks; `of_rows` is the fingerprint of all of it."""
    learned = learn_blocks(evidence, wider)
    counts = evidence.reports, evidence.reporters
    fingerprint = fingerprint_of(of_rows, wider)
    alone = learned.alone if evidence.reporters >= FEWEST_PEOPLE else None
    made = Calibration(learned.posterior, *counts, fingerprint, _seen(evidence), wider, alone)
    return made, learned.offsets


def fingerprint_of(of_rows: str, wider: Wider | None) -> str:
    """Return the SHA-256 of all that a calibration follows from: the rows and any wider pool."""
    if wider is None:
        return of_rows
    began_with = json.dumps(wider.to_json(), sort_keys=True)
    return hashlib.sha256(f"{of_rows}\n{began_with}".encode()).hexdigest()


@cache
def geometry_alone() -> Calibration:
    """Return what answers where a group has no calibration yet."""
    return Calibration(prior(), 0, 0, "", Seen(_survey(), ()))


def usable(stored: Mapping[str, Any]) -> Calibration:
    """Return a stored calibration, or the geometry in its place where it is outdated."""
    try:
        return Calibration.from_json(stored)
    except Outdated:
        return replace(geometry_alone(), outdated=True)


def coefficients(stored: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return each term's coefficient with its standard error, in latent units per unit of it."""
    errors = np.sqrt(np.diag(np.array(stored["covariance"])))
    return [
        {"term": name, "mean": mean, "standard_error": float(error)}
        for name, mean, error in zip(stored["terms"], stored["mean"], errors, strict=True)
    ]


def _seen(evidence: EvidenceBlocks) -> Seen:
    """Return what the evidence is about, as far as enough people stand behind each figure."""
    stand, taken, totals = added(evidence.blocks.each(_sums))
    means = totals / np.maximum(taken, 1)
    squares = added(evidence.blocks.each(partial(_squares, means=means)))
    sds = np.sqrt(squares / np.maximum(taken, 1))
    figures = {
        name: (float(mean), float(sd))
        for name, mean, sd, people in zip(_DESCRIBED, means, sds, stand, strict=True)
        if people >= FEWEST_REPORTERS_SHOWN
    }
    knitters = added(evidence.blocks.each(_knitters))
    weights = [
        weight.number
        for weight, people in zip(YARN_WEIGHTS, knitters, strict=True)
        if people >= FEWEST_REPORTERS_SHOWN
    ]
    return Seen({**_survey(), **figures}, tuple(weights))


def _sums(evidence: Evidence) -> Column:
    """Return, of each described column, how many people and rows have it, and its sum: (3, k)."""
    found = []
    for name in _DESCRIBED:
        taken = ~np.isnan(evidence.columns[name])
        stand = people(evidence.reporter, taken)
        found.append([stand, taken.sum(), evidence.columns[name][taken].sum()])
    return np.array(found, dtype=np.float64).T


def _squares(evidence: Evidence, means: Column) -> Column:
    """Return the sum of squares about its mean of each described column, (k,)."""
    described = [evidence.columns[name] for name in _DESCRIBED]
    away = [values[~np.isnan(values)] - m for values, m in zip(described, means, strict=True)]
    return np.array([np.square(distance).sum() for distance in away])


def _knitters(evidence: Evidence) -> Column:
    """Return how many people of a block worked each yarn weight."""
    worked = evidence.columns["yarn_weight"]
    return np.array(
        [float(people(evidence.reporter, worked == weight.number)) for weight in YARN_WEIGHTS]
    )


def _survey() -> dict[str, tuple[float, float]]:
    means, covariances = pooled()
    return {name: (means[name], covariances[name][name] ** 0.5) for name in MEASUREMENT_NAMES}
