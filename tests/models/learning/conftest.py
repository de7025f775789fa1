"""Simulated worlds: socks nobody knitted, on feet drawn from the survey's published figures."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from models.domain.anthropometry import pooled
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.gauge import Gauge
from models.domain.geometry import across_mm, ideal_depth_mm
from models.domain.policy import Policy
from models.learning.design import design
from models.learning.estimator import prior
from models.learning.evidence import COLUMNS, Evidence
from models.learning.outcomes import SizeHeel
from models.learning.question import Question
from models.learning.target_feet import survey_feet
from models.learning.terms import COEFFICIENT_NAMES, HABIT, PRIOR_MEANS

Column = NDArray[np.float64]


HABIT_AT = COEFFICIENT_NAMES.index(HABIT)
LIMITS = (-1.8, -0.85, 0.85, 1.8)
"""Latent fits between which the five scores lie."""


@dataclass(frozen=True)
class Truth:
    """What really makes a heel fit in a simulated world, by term, in latent units."""

    coefficients: Mapping[str, float]
    noise_sd: float = 1.0
    reporter_sd: float = 0.0
    share_without_diagonal: float = 0.0

    @property
    def vector(self) -> Column:
        return np.array([self.coefficients.get(name, 0.0) for name in COEFFICIENT_NAMES])

    @classmethod
    def drawn(cls, draw: np.random.Generator, **other: Any) -> Truth:
        """Return a world as the prior expects it; habits mean nothing in it."""
        p = len(COEFFICIENT_NAMES)
        values = draw.normal(PRIOR_MEANS[:p], np.sqrt(np.diag(prior().covariance))[:p])
        values[HABIT_AT] = 0.0
        return cls(dict(zip(COEFFICIENT_NAMES, values, strict=True)), **other)


class Worlds:
    """Makes evidence and questions from a truth."""

    truth = Truth

    @staticmethod
    def matrix(columns: Mapping[str, Column]) -> Column:
        """Return the terms of socks whose knitters have no habit, rows x coefficients."""
        socks = design(columns)
        ones = np.ones_like(socks.excess)
        return np.column_stack([ones, socks.excess, 0 * ones, socks.columns])

    @staticmethod
    def feet(draw: np.random.Generator, number: int) -> dict[str, Column]:
        """Return feet of the survey's joint distribution, women and men together, in mm."""
        means, covariances = pooled()
        matrix = [[covariances[a][b] for b in MEASUREMENT_NAMES] for a in MEASUREMENT_NAMES]
        centre = [means[name] for name in MEASUREMENT_NAMES]
        drawn = draw.multivariate_normal(centre, matrix, number)
        return dict(zip(MEASUREMENT_NAMES, drawn.T, strict=True))

    def socks(self, draw: np.random.Generator, number: int, spread: int = 2) -> dict[str, Column]:
        """Return socks for such feet, `spread` slow-decrease rounds around the geometry's."""
        feet = self.feet(draw, number)
        gauge = draw.choice([26.0, 28, 30, 32, 34], number)
        wanted = feet["foot_circumference_mm"] * draw.normal(0.9, 0.04, number) * gauge / 100
        heel = wanted // 4 * 4
        total = (heel - 16) // 4
        rounds_for_a_cm = gauge * 0.135
        usual = 3 + total + np.minimum(4, total)
        ideal = ideal_depth_mm(feet["heel_diagonal_mm"], across_mm(heel, 16, gauge))
        nearest = np.rint((ideal / 10 * rounds_for_a_cm - usual) / 3)
        slow = np.clip(nearest + draw.integers(-spread, spread + 1, number), 0, total)
        medium = np.minimum(4, total - slow)
        return {
            **feet,
            "yarn_weight": draw.choice([0.0, 1, 1, 1, 2], number),
            "stitches_per_10cm": gauge,
            "rounds_per_10cm": gauge * 1.35,
            "heel_stitches": heel,
            "decreases_per_round": np.full(number, 4.0),
            "plain_rounds": draw.integers(2, 6, number) * 1.0,
            "slow_decrease_rounds": slow * 1.0,
            "medium_decrease_rounds": medium * 1.0,
            "fast_decrease_rounds": (total - slow - medium) * 1.0,
        }

    def evidence(
        self, draw: np.random.Generator, truth: Truth, number: int, spread: int = 2
    ) -> Evidence:
        """Return reports of that many socks by reporters of about 12 socks each."""
        columns = self.socks(draw, number, spread)
        matrix = self.matrix(columns)
        who = draw.integers(0, max(number // 12, 1), number)
        offsets = draw.normal(0, truth.reporter_sd, number)[who]
        latent = matrix @ truth.vector + offsets + draw.normal(0, truth.noise_sd, number)
        unknown = draw.random(number) < truth.share_without_diagonal
        columns["heel_diagonal_mm"] = np.where(unknown, np.nan, columns["heel_diagonal_mm"])
        columns["fit_score"] = np.searchsorted(LIMITS, latent) - 2.0
        return Evidence.of({name: columns[name] for name in COLUMNS}, who.astype(np.int64))

    def questions(self, draw: np.random.Generator, number: int) -> list[Question]:
        """Return questions of people like those who report."""
        columns = self.socks(draw, number)
        return [
            Question(
                {name: float(columns[name][n]) for name in MEASUREMENT_NAMES},
                int(columns["yarn_weight"][n]),
                Gauge(float(columns["stitches_per_10cm"][n]), float(columns["rounds_per_10cm"][n])),
                Policy(int(columns["heel_stitches"][n]), 16, 4),
            )
            for n in range(number)
        ]

    @staticmethod
    def without_diagonal(question: Question) -> Question:
        """Return a question whose heel diagonal and ankle were not measured."""
        taken = {name: question.foot[name] for name in MEASUREMENT_NAMES[:2]}
        return replace(question, foot=taken)

    @staticmethod
    def columns_of(question: Question, slow: int) -> dict[str, Column]:
        """Return a question with that many slow-decrease rounds as evidence of one row."""
        schedule = question.policy.schedule(slow)
        values = {
            **dict.fromkeys(MEASUREMENT_NAMES, np.nan),
            **question.foot,
            **schedule.counts,
            "yarn_weight": question.yarn_weight,
            "stitches_per_10cm": question.gauge.stitches_per_10cm,
            "rounds_per_10cm": question.gauge.rounds_per_10cm,
            "heel_stitches": schedule.heel_stitches,
            "decreases_per_round": schedule.decreases_per_round,
        }
        return {name: np.array([float(value)]) for name, value in values.items()}

    def latent(self, truth: Truth, question: Question, slow: int) -> float:
        """Return the expected latent fit of a sock in a world."""
        matrix = self.matrix(self.columns_of(question, slow))
        return float((matrix @ truth.vector)[0])


@pytest.fixture(scope="session", name="worlds_")
def _worlds() -> Worlds:
    return Worlds()


@pytest.fixture
def worlds(worlds_: Worlds) -> Worlds:
    return worlds_


def size_heel(number: int, *, slow: int | None = None, **changed: Any) -> SizeHeel:
    """Return one size of an invented design, `number` steps up; some of its parts changed."""
    length, width = 225.0 + 14 * number, 205.0 + 13 * number
    feet = survey_feet(
        {
            "foot_length_mm": (length, length + 14),
            "foot_circumference_mm": (width, width + 26),
        }
    )
    heel = 4 * round(0.9 * (width + 13) * 30 / 100 / 4)
    policy = Policy(heel, 4 * round(0.27 * heel / 4), 2)
    sound = SizeHeel(str(number + 1), feet, 1, Gauge(30, 41), policy, 4 if slow is None else slow)
    return replace(sound, **changed)


@pytest.fixture(scope="session", name="size_heel")
def _size_heel() -> Callable[..., SizeHeel]:
    return size_heel


@pytest.fixture(scope="session")
def five_sizes() -> list[SizeHeel]:
    """Return an invented design of five sizes."""
    return [size_heel(number) for number in range(5)]
