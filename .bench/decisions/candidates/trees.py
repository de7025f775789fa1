"""Candidates without a formula: boosted trees and neighbours."""

from __future__ import annotations

import numpy as np
from sklearn.ensemble import HistGradientBoostingRegressor
from sklearn.neighbors import KNeighborsRegressor

from decisions.candidates.decision import Decision, best
from decisions.candidates.inputs import grid, question_inputs, report_inputs
from decisions.population import Questions
from models.learning.evidence import Evidence


class MonotoneBoosting:
    """Boosted trees on the score, rising with depth."""

    def decide(self, evidence: Evidence, questions: Questions) -> Decision:
        """See `Candidate`."""
        rows, asked = report_inputs(evidence, "linear"), question_inputs(questions, "linear")
        rising = [1] + [0] * rows.columns.shape[1]
        model = HistGradientBoostingRegressor(
            monotonic_cst=rising, learning_rate=0.05, max_leaf_nodes=15, random_state=0
        )
        model.fit(np.column_stack([rows.excess, rows.columns]), evidence.score)
        score = model.predict(grid(asked)).reshape(asked.excess.shape)
        # Trees are flat in places; among equals the depth nearest to geometry is taken.
        return Decision(best(questions, -np.abs(score) - 1e-3 * np.abs(asked.excess)))


class Neighbours:
    """The mean score of similar socks on similar feet."""

    def decide(self, evidence: Evidence, questions: Questions) -> Decision:
        """See `Candidate`."""
        rows, asked = report_inputs(evidence, "linear"), question_inputs(questions, "linear")
        size = max(3, min(25, len(evidence.score) // 8))
        model = KNeighborsRegressor(size, weights="distance")
        model.fit(np.column_stack([2.0 * rows.excess, rows.columns]), evidence.score)
        places = grid(asked)
        places[:, 0] *= 2.0
        score = model.predict(places).reshape(asked.excess.shape)
        return Decision(best(questions, -np.abs(score) - 1e-3 * np.abs(asked.excess)))
