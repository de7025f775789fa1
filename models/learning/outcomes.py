"""What a size's heel comes out as, over all the feet the size is meant for.

`models.learning.decide` answers for one foot; here the same chances are taken for many feet at
many depths at once, and for draws from the posterior instead of its average.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from scipy.special import ndtr

from models.domain.foot import MEASUREMENT_NAMES
from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.learning.decide import Figures, decide_all
from models.learning.design import design_of
from models.learning.estimator import Posterior
from models.learning.evidence import Column
from models.learning.ordinal.thresholds import thresholds_from_gaps
from models.learning.question import without_slow_rounds
from models.learning.target_feet import TargetFeet
from models.learning.terms import COEFFICIENT_NAMES, EXCESS

SLOPE = COEFFICIENT_NAMES.index(EXCESS)


@dataclass(frozen=True)
class SizeHeel:
    """A size: whom it is for, in what it is knitted, and what its heel is today."""

    label: str
    feet: TargetFeet
    yarn_weight: int
    gauge: Gauge
    policy: Policy
    slow_decrease_rounds: int

    @property
    def most(self) -> int:
        """The most slow-decrease rounds there can be."""
        return self.policy.total_decrease_rounds

    @cached_property
    def terms(self) -> Column:
        """Terms (n, p) of the size without slow-decrease rounds on each of its feet."""
        return terms_of(self, self.feet.columns)

    def steps_cm(self, plain_rounds: int) -> Column:
        """Return the depths (S,) of all slow-decrease rounds, in cm beyond today's without any."""
        rounds = replace(self.policy, plain_rounds=plain_rounds).total_rounds()
        first = self.policy.total_rounds()[0]
        return (np.array(rounds) - first) * self.gauge.round_mm / 10

    def depth_mm(self, plain_rounds: int, slow_decrease_rounds: int) -> float:
        """Return the depth of one choice, in mm."""
        policy = replace(self.policy, plain_rounds=plain_rounds)
        return policy.schedule(slow_decrease_rounds).depth_mm(self.gauge.rounds_per_10cm)


@dataclass(frozen=True)
class Shares:
    """Shares of people, arrays of one shape or plain floats; they add up to 1."""

    too_shallow: Any
    just_right: Any
    too_deep: Any


def terms_of(size: SizeHeel, feet: Mapping[str, Column]) -> Column:
    """Return the terms (n, p) of a size without slow-decrease rounds on whole feet."""
    columns = {name: np.asarray(feet[name], dtype=float) for name in MEASUREMENT_NAMES}
    fixed = without_slow_rounds(size.policy, size.yarn_weight, size.gauge)
    return design_of({**columns, **fixed}, np.zeros(len(columns[MEASUREMENT_NAMES[0]]))).terms


def shares(figures: Figures, terms: Column, steps: Column) -> Shares:
    """Return the chances (n, S) of each outcome for feet at depths `steps` (S,) cm on.

    All that is not known is integrated out; the feet are measured.
    """
    found = decide_all(figures, terms, steps, np.zeros(len(terms)))
    return Shares(found.too_shallow, found.chances, found.too_deep)


@dataclass(frozen=True)
class Draws:
    """Draws from a posterior: coefficients (K, p), ends of "just right" (K, 2), sd of the rest.

    `misfit` (K,) is what the terms cannot express of a size's need, in cm.
    """

    coefficients: Column
    limits: Column
    misfit: Column
    noise_sd: float

    def just_right(self, terms: Column, weight: Column, steps: Column) -> Column:
        """Return the share (K, S) of feet that each draw finds just right at each depth."""
        level = terms @ self.coefficients.T + self.misfit * self.coefficients[:, SLOPE]
        deeper = self.coefficients[:, SLOPE, None] * steps
        latent = level[:, :, None] + deeper
        low, high = (self.limits[None, :, end, None] for end in (0, 1))
        chance = ndtr((high - latent) / self.noise_sd) - ndtr((low - latent) / self.noise_sd)
        return np.asarray(np.einsum("n,nks->ks", weight, chance))


def drawn(posterior: Posterior, number: int, seed: int = 0) -> Draws:
    """Return draws from a posterior, always the same ones."""
    p = len(COEFFICIENT_NAMES)
    mean, covariance = posterior.mean, posterior.covariance
    generator = np.random.default_rng(seed)
    values, vectors = np.linalg.eigh(covariance)
    scores = generator.standard_normal((number, len(mean)))
    sample = mean + (scores * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    limits = np.array([thresholds_from_gaps(row)[1:3] for row in sample[:, p:]])
    misfit = generator.standard_normal(number) * posterior.misfit_variance**0.5
    noise_sd = float(posterior.noise_variance**0.5)
    return Draws(sample[:, :p], limits, misfit, noise_sd)
