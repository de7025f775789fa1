"""Ordinal candidates from other libraries."""

from __future__ import annotations

import warnings

import numpy as np
from sklearn.linear_model import LogisticRegression

from decisions.candidates.baselines import GeometryAlone
from decisions.candidates.decision import Decision, best, nearest
from decisions.candidates.inputs import grid, question_inputs, report_inputs
from decisions.population import Questions
from models.learning.evidence import Column, Evidence


class StackedLogistic:
    """One logistic regression for "deep or not" at every threshold, slopes shared."""

    def decide(self, evidence: Evidence, questions: Questions) -> Decision:
        """See `Candidate`."""
        rows, asked = report_inputs(evidence, "linear"), question_inputs(questions, "linear")
        design = np.column_stack([rows.excess, rows.columns])
        limits = np.array([-2, -1, 0, 1])
        answers = (evidence.score[None, :] > limits[:, None]).reshape(-1)
        if answers.all() or not answers.any():
            return GeometryAlone().decide(evidence, questions)
        stacked = np.vstack([_marked(design, k) for k in range(4)])
        model = LogisticRegression(C=1.0, max_iter=300).fit(stacked, answers.astype(int))
        places = grid(asked)
        above = [model.predict_proba(_marked(places, k))[:, 1] for k in (1, 2)]
        chance = (above[0] - above[1]).reshape(asked.excess.shape)
        choice = best(questions, chance)
        return Decision(choice, np.clip(chance[np.arange(len(choice)), choice], 0.0, 1.0))


def _marked(design: Column, limit: int) -> Column:
    """Return the design with a column that is one for this threshold."""
    marks = np.zeros((len(design), 4))
    marks[:, limit] = 1.0
    return np.hstack([design, marks])


class OrderedProbitMle:
    """The ordered probit of statsmodels, by maximum likelihood without a prior."""

    def decide(self, evidence: Evidence, questions: Questions) -> Decision:
        """See `Candidate`."""
        from statsmodels.miscmodels.ordinal_model import OrderedModel

        rows, asked = report_inputs(evidence, "linear"), question_inputs(questions, "linear")
        # One yarn column is dropped: with thresholds free, all of them would be collinear.
        kept = [k for k in range(rows.columns.shape[1]) if np.ptp(rows.columns[:, k]) > 0.0]
        kept = kept[:-1] if len(kept) > 7 else kept
        design = np.column_stack([rows.excess, rows.columns[:, kept]])
        if len(np.unique(evidence.score)) < 5 or len(evidence.score) < 2 * design.shape[1]:
            return GeometryAlone().decide(evidence, questions)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            model = OrderedModel(evidence.score, design, distr="probit")
            fitted = model.fit(method="bfgs", maxiter=100, disp=False)
        weights = fitted.params[: design.shape[1]]
        limits = model.transform_threshold_params(fitted.params)[1:-1]
        level = asked.columns[:, kept] @ weights[1:] - (limits[1] + limits[2]) / 2.0
        return Decision(nearest(questions, asked.ideal - level / max(weights[0], 0.1)))
