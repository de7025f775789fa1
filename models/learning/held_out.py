"""What a calibration would have said of each report had its reporter never been met."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from threadpoolctl import threadpool_limits

from models.learning.estimator import SCORES, Posterior, fit, prior
from models.learning.evidence import Column, Evidence
from models.learning.folds import Rows, reporter_folds
from models.learning.ordinal.arrays import Integers
from models.learning.predictive import rounds_beyond, score_chances
from models.learning.scores import log_score
from models.learning.wider import Wider

JUST_RIGHT = SCORES.index(0)

NEAR_ROUNDS = 2.0
"""Half of what one slow-decrease round takes: a sock no further from what was wanted shows how
the wanted one would have fitted."""


@dataclass(frozen=True)
class Foreseen:
    """The chance of each score (n, 5), and how many rounds each sock (n,) is deeper than wanted."""

    chances: Column
    beyond: Column

    @property
    def near(self) -> Rows:
        """The socks (n,) that were worked about as this calibration would have had them."""
        return np.asarray(np.abs(self.beyond) <= NEAR_ROUNDS)

    def log_score(self, evidence: Evidence) -> Column:
        """Return the log chance of what was reported, (n,) in nats; higher is better."""
        return -log_score(self.chances, categories(evidence))


def categories(evidence: Evidence) -> Integers:
    """Return the place of each report's score among `SCORES`, (n,)."""
    return np.asarray(evidence.score - SCORES[0], dtype=np.int64)


def learned_from(evidence: Evidence, known: Rows, wider: Wider | None = None) -> Foreseen:
    """Return what a calibration of the known rows foresees, each fold's reporters left out."""
    return _in_folds(evidence, lambda held_out: fit(evidence.only(known & ~held_out), wider))


def geometry_foresees(evidence: Evidence) -> Foreseen:
    """Return what geometry alone says; it has met nobody."""
    return Foreseen(score_chances(prior(), evidence), rounds_beyond(prior(), evidence))


def _in_folds(evidence: Evidence, calibrated: Callable[[Rows], Posterior]) -> Foreseen:
    chances = np.empty((evidence.reports, len(SCORES)))
    beyond = np.empty(evidence.reports)
    # Many small fits: threads would wait for each other longer than they calculate.
    with threadpool_limits(1, "blas"):
        for held_out in reporter_folds(evidence.reporter):
            posterior, asked = calibrated(held_out), evidence.only(held_out)
            chances[held_out] = score_chances(posterior, asked)
            beyond[held_out] = rounds_beyond(posterior, asked)
    return Foreseen(chances, beyond)
