"""Pools spoiled on purpose: how far colluders or rows of leverage move a suggestion."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from decisions.feet import FootSource
from decisions.population import Questions, draw_questions, draw_reports
from decisions.worlds import FIVE, WORLDS
from models.learning.calibration import calibrate
from models.learning.evidence import Column, Evidence
from models.learning.suggest import suggest

COLLUSIONS = {"all far too shallow": -2.0, "all far too deep": 2.0, "all just right": 0.0}
SHARES = (0.1, 0.3)
REPORTS, QUESTIONS = 300, 100


def movements(source: FootSource, seeds: range) -> Iterator[tuple[str, float, float]]:
    """Yield attack, its share and how far it moves a suggestion (slow-decrease rounds, mean)."""
    found: dict[tuple[str, float], list[float]] = {}
    for seed in seeds:
        for world in FIVE:
            truth = WORLDS[world](np.random.default_rng([seed, 1]))
            asked = draw_questions(np.random.default_rng([seed, 2]), truth, source, QUESTIONS)
            pool = draw_reports(np.random.default_rng([seed, 3]), truth, source, REPORTS)
            clean = wanted(pool.first(REPORTS), asked)
            for name, share, spoiled in attacks(seed, pool.first(REPORTS)):
                step = 30 / asked.whole["rounds_per_10cm"] * 10
                moved = np.abs(wanted(spoiled, asked) - clean) / step
                found.setdefault((name, share), []).append(float(moved.mean()))
    for (name, share), moved_by in found.items():
        yield name, share, float(np.mean(moved_by))


def attacks(seed: int, evidence: Evidence) -> Iterator[tuple[str, float, Evidence]]:
    """Yield every attack's name, its share of the pool, and the spoiled pool."""
    for share in SHARES:
        for name, score in COLLUSIONS.items():
            rng = np.random.default_rng([seed, 4])
            yield name, share, colluding(rng, evidence, share, score)
        yield (
            "leverage rows",
            share,
            with_leverage(np.random.default_rng([seed, 5]), evidence, share),
        )


def wanted(evidence: Evidence, questions: Questions) -> Column:
    """Calibrate, and return the depths (mm) wanted for some questions, before rounding."""
    calibration = calibrate(evidence)
    return np.array([suggest(calibration, q).wanted_depth_mm for q in questions.asked])


def colluding(rng: np.random.Generator, evidence: Evidence, share: float, score: float) -> Evidence:
    """Let this share of the reporters give every sock the same score."""
    reporters = rng.permutation(np.unique(evidence.reporter))
    bad = reporters[: max(1, round(share * len(reporters)))]
    spoiled = np.where(np.isin(evidence.reporter, bad), score, evidence.score)
    return Evidence.of({**evidence.columns, "fit_score": spoiled}, evidence.reporter)


def with_leverage(rng: np.random.Generator, evidence: Evidence, share: float) -> Evidence:
    """Turn this share of the rows into far-off feet with far-off scores."""
    bad = rng.permutation(evidence.reports)[: int(share * evidence.reports)]
    columns = {name: values.copy() for name, values in evidence.columns.items()}
    columns["heel_diagonal_mm"][bad] *= 1.25
    columns["foot_length_mm"][bad] *= 0.9
    columns["fit_score"][bad] = 2
    return Evidence.of(columns, evidence.reporter)
