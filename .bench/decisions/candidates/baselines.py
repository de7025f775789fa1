"""Candidates that learn nothing."""

from __future__ import annotations

from decisions.candidates.decision import Decision, nearest
from decisions.candidates.inputs import question_inputs
from decisions.population import Questions
from models.learning.evidence import Evidence


class FixedTable:
    """The same share of slow decreases for every foot."""

    def decide(self, evidence: Evidence, questions: Questions) -> Decision:
        """See `Candidate`."""
        return Decision(questions.table)


class GeometryAlone:
    """The depth at which the usual ease is met."""

    def decide(self, evidence: Evidence, questions: Questions) -> Decision:
        """See `Candidate`."""
        return Decision(nearest(questions, question_inputs(questions, "linear").ideal))
