"""What a candidate answers, and how one is asked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from decisions.population import Questions
from models.learning.evidence import Column, Evidence


@dataclass(frozen=True)
class Decision:
    """Chosen count of slow decreases (n,), and what is claimed beside it where anything is.

    `stated` is the chance of "just right" (n,); `low` and `high` end the 80 % range of the
    needed depth, cm, before rounding.
    """

    choice: np.ndarray
    stated: Column | None = None
    low: Column | None = None
    high: Column | None = None


class Candidate(Protocol):
    """Learns from reports and decides for questions; holds nothing between calls."""

    def decide(self, evidence: Evidence, questions: Questions) -> Decision:
        """Learn from evidence and answer `questions`."""


def nearest(questions: Questions, target: Column) -> np.ndarray:
    """Return the offered count (n,) whose depth comes nearest to `target` (n,) cm."""
    away = np.abs(questions.depths - target[:, None])
    return np.asarray(np.argmin(np.where(questions.offered, away, np.inf), axis=1), dtype=np.int64)


def best(questions: Questions, value: Column) -> np.ndarray:
    """Return the offered count (n,) of highest `value` (n, S)."""
    return np.asarray(
        np.argmax(np.where(questions.offered, value, -np.inf), axis=1), dtype=np.int64
    )
