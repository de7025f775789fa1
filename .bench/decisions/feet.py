"""Feet to knit for: drawn from the registry's published figures, or from survey rows."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS, SURVEY_COUNTS
from models.learning.evidence import Column


@dataclass(frozen=True)
class FootSource:
    """Where feet come from: survey rows (m, 4) where given, the published figures otherwise."""

    rows: Column | None = None

    def draw(self, rng: np.random.Generator, n: int) -> dict[str, Column]:
        """Draw `n` feet, mm by measurement; women are drawn with the survey's share."""
        if self.rows is not None:
            return feet_from(self.rows[rng.integers(len(self.rows), size=n)])
        woman = rng.random(n) < SURVEY_COUNTS["women"] / sum(SURVEY_COUNTS.values())
        return feet_from(np.where(woman[:, None], drawn("women", rng, n), drawn("men", rng, n)))


def drawn(sex: str, rng: np.random.Generator, n: int) -> Column:
    """Return `n` feet (n, 4) of the normal distribution with one sex's published figures."""
    figures = [getattr(measurement, sex) for measurement in MEASUREMENTS]
    correlation = np.eye(len(figures))
    for row, figure in enumerate(figures):
        correlation[row, :row] = correlation[:row, row] = figure.correlations
    sd = np.array([figure.sd for figure in figures])
    mean = [figure.mean for figure in figures]
    return rng.multivariate_normal(mean, correlation * np.outer(sd, sd), size=n)


def survey_rows(path: Path) -> Column:
    """Read survey rows, (m, 4) mm, from a CSV whose columns are named as measurements are."""
    with path.open(newline="", encoding="utf-8") as lines:
        rows = [[float(row[name]) for name in MEASUREMENT_NAMES] for row in csv.DictReader(lines)]
    return np.array(rows)


def feet_from(rows: Column) -> dict[str, Column]:
    """Return rows (n, 4) in the order of the registry as columns."""
    return {name: rows[:, k].copy() for k, name in enumerate(MEASUREMENT_NAMES)}
