"""The invented group of the demo: nobody in it exists, and no sock of it was ever knitted.

Feet are drawn from the published survey figures (see `models.domain.foot`); scores come from an
invented truth that differs a little from the geometry, so that there is something to learn.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS
from models.domain.geometry import across_mm, ideal_depth_mm
from models.domain.policy import Policy

GROUP = "Invented demo group"
STEWARD = "Invented steward"
REPORTERS = (
    "Alder",
    "Birch",
    "Cedar",
    "Dogwood",
    "Elm",
    "Fir",
    "Gorse",
    "Hazel",
    "Ivy",
    "Juniper",
    "Larch",
    "Maple",
)
REPORTS = 150

_TRUE_EASE = -0.13
_TRUE_SLOPE_PER_CM = 0.9
_SD_OF_REPORTER = 0.25
_SD_OF_SOCK = 0.45

NEW_FOOT = {
    "foot_length_mm": 252,
    "foot_circumference_mm": 236,
    "heel_diagonal_mm": 318,
}
QUESTION = {
    "foot": NEW_FOOT,
    "yarn_weight": 1,
    "stitches_per_10cm": 30,
    "rounds_per_10cm": 42,
    "heel_stitches": 64,
    "closing_stitches": 16,
    "medium_decrease_rounds": 4,
}


def reports(seed: int = 20261125) -> Iterator[dict[str, Any]]:
    """Yield the reports of the demo as `POST .../reports` takes them; always the same."""
    draw = np.random.default_rng(seed)
    offsets = dict(zip(REPORTERS, draw.normal(0, _SD_OF_REPORTER, len(REPORTERS)), strict=True))
    feet = {name: [_foot(draw) for _ in range(3)] for name in REPORTERS}
    for number in range(REPORTS):
        name = REPORTERS[number % len(REPORTERS)]
        foot = feet[name][int(draw.integers(3))]
        yield {"reporter": name, **_sock(draw, foot, float(offsets[name]))}


def _foot(draw: np.random.Generator) -> dict[str, float]:
    """Return one foot of the survey's joint distribution, women more often than men."""
    sex = "women" if draw.random() < 0.7 else "men"
    figures = [getattr(measurement, sex) for measurement in MEASUREMENTS]
    correlation = np.eye(len(figures))
    for i, one in enumerate(figures):
        correlation[i, :i] = correlation[:i, i] = one.correlations
    scores = np.linalg.cholesky(correlation) @ draw.normal(size=len(figures))
    return {
        name: round(one.mean + one.sd * score)
        for name, one, score in zip(MEASUREMENT_NAMES, figures, scores, strict=True)
    }


def _sock(draw: np.random.Generator, foot: dict[str, float], offset: float) -> dict[str, Any]:
    """Return a sock on a foot with the fit score that the invented truth gives it."""
    stitches_per_10cm, rounds_per_10cm = (
        float(draw.choice([28, 30, 32])),
        float(draw.choice([40, 42])),
    )
    heel_stitches = int(foot["foot_circumference_mm"] * 0.9 * stitches_per_10cm / 100) // 4 * 4
    policy = Policy(heel_stitches, 16, 4)
    schedule = policy.schedule(int(draw.integers(1, min(8, policy.total_decrease_rounds))))
    across = across_mm(heel_stitches, 16, stitches_per_10cm)
    ideal = ideal_depth_mm(foot["heel_diagonal_mm"], across, _TRUE_EASE)
    excess = (schedule.depth_mm(rounds_per_10cm) - ideal) / 10
    score = _TRUE_SLOPE_PER_CM * excess + offset + draw.normal(0, _SD_OF_SOCK)
    measured = {k: v for k, v in foot.items() if k != "heel_diagonal_mm" or draw.random() < 0.7}
    return {
        "foot": measured,
        "yarn_weight": 1,
        "stitches_per_10cm": stitches_per_10cm,
        "rounds_per_10cm": rounds_per_10cm,
        "heel_stitches": heel_stitches,
        **schedule.counts,
        "fit_score": int(np.clip(np.rint(score), -2, 2)),
        "notes": "invented",
    }
