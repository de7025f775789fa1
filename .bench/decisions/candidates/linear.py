"""Candidates that regress the score as if it were a number and solve for zero."""

from __future__ import annotations

import numpy as np
from sklearn.linear_model import BayesianRidge, LinearRegression, Ridge

from decisions.candidates.decision import Decision, nearest
from decisions.candidates.inputs import question_inputs, report_inputs
from decisions.population import Questions
from models.learning.estimator import prior
from models.learning.evidence import Column, Evidence
from models.learning.terms import COLUMN_NAMES, SLOPE

# Score points per latent unit around zero, and the score's variance around its mean.
SCORE_PER_LATENT = 0.6
SCORE_VARIANCE = 0.55
LEAST_SLOPE = 0.1


class PlainRegression:
    """Least squares of the score on depth excess and columns, no prior."""

    def decide(self, evidence: Evidence, questions: Questions) -> Decision:
        """See `Candidate`."""
        rows, asked = report_inputs(evidence, "linear"), question_inputs(questions, "linear")
        design = np.column_stack([rows.excess + rows.ideal, rows.ideal, rows.columns])
        model = LinearRegression().fit(design, evidence.score)
        level = model.intercept_ + np.column_stack([asked.ideal, asked.columns]) @ model.coef_[1:]
        return Decision(nearest(questions, -level / _usable(model.coef_[0])))


class BayesianResidual:
    """BayesianRidge on what geometry leaves of the score, its scales learned."""

    def decide(self, evidence: Evidence, questions: Questions) -> Decision:
        """See `Candidate`."""
        rows, asked = report_inputs(evidence, "linear"), question_inputs(questions, "linear")
        expected = SCORE_PER_LATENT * SLOPE * rows.excess
        trust = (rows.ideal - 7.5)[:, None]
        design = np.column_stack([rows.excess, trust, rows.columns])
        model = BayesianRidge().fit(design, evidence.score - expected)
        slope = _usable(model.coef_[0] + SCORE_PER_LATENT * SLOPE)
        beyond = np.column_stack([asked.ideal - 7.5, asked.columns]) @ model.coef_[1:]
        return Decision(nearest(questions, asked.ideal - (model.intercept_ + beyond) / slope))


class PriorRidge:
    """Ridge on the score minus its prior mean, columns scaled by their prior sd."""

    def __init__(self, kind: str) -> None:
        """Take `kind` "ours" (columns and sds of our prior) or "plain" (a simpler prior)."""
        self.kind = kind

    def decide(self, evidence: Evidence, questions: Questions) -> Decision:
        """See `Candidate`."""
        rows, asked = report_inputs(evidence, self.kind), question_inputs(questions, self.kind)
        sd = SCORE_PER_LATENT * self._prior_sd()
        expected = SCORE_PER_LATENT * SLOPE * rows.excess
        design = np.column_stack([rows.excess, np.ones(len(expected)), rows.columns]) * sd
        model = Ridge(alpha=SCORE_VARIANCE, fit_intercept=False).fit(
            design, evidence.score - expected
        )
        weights = model.coef_ * sd
        slope = _usable(weights[0] + SCORE_PER_LATENT * SLOPE)
        beyond = weights[1] + asked.columns @ weights[2:]
        return Decision(nearest(questions, asked.ideal - beyond / slope))

    def _prior_sd(self) -> Column:
        if self.kind == "plain":
            return np.concatenate([[0.4, 0.6], np.full(7, 0.35), np.full(8, 0.3)])
        sds = np.sqrt(np.diag(prior().covariance))
        intercept, slope, _, *columns = sds[: 3 + len(COLUMN_NAMES)]
        return np.array([slope, intercept, *columns])


def _usable(slope: float) -> float:
    """Return a slope that can be divided by: no regression may claim that depth is not felt."""
    return max(float(slope), LEAST_SLOPE)
