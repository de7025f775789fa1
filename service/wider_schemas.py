"""What the service takes and answers about the wider pool."""

from __future__ import annotations

from marshmallow import fields, validate

from models.learning.summary import ESTIMATE, FORM, PEOPLE, PRECISION, REPORTS
from models.learning.terms import TERM_NAMES
from service.answers import Answer
from service.fields import Id, MayBeAbsent, Number, Strict

_TERM = f"one of the {len(TERM_NAMES)} terms of a calibration's coefficients, once"
_LIST = f"a list of 1 to {len(TERM_NAMES)} objects with term, estimate and precision"
_FORM = f"it must be {FORM!r}: a summary made by this version of heeldepth"

NewContribution = MayBeAbsent.from_dict({}, name="NewContribution")
NewPoolUse = MayBeAbsent.from_dict({}, name="NewPoolUse")


class SharedCoefficient(Strict):
    """What a group's reports say of one term."""

    term = fields.String(
        required=True,
        validate=validate.OneOf(TERM_NAMES, error=_TERM),
        error_messages=dict.fromkeys(("required", "null", "invalid"), _TERM),
    )
    estimate = Number(ESTIMATE)
    precision = Number(PRECISION)


class NewSummary(Strict):
    """What another group learned, as it was exported."""

    form = fields.String(
        required=True,
        validate=validate.Equal(FORM, error=_FORM),
        error_messages=dict.fromkeys(("required", "null", "invalid"), _FORM),
    )
    origin = Id(required=True, metadata={"description": "The same for all summaries of a group."})
    people = Number(PEOPLE)
    reports = Number(REPORTS)
    coefficients = fields.List(
        fields.Nested(SharedCoefficient),
        required=True,
        validate=validate.Length(1, len(TERM_NAMES), error=_LIST),
        error_messages=dict.fromkeys(("required", "null", "invalid"), _LIST),
        metadata={"description": "Terms of which the reports say nothing are left out."},
    )


class CoefficientAnswer(Answer):
    """What a group's reports say of one term."""

    term = fields.String()
    estimate = fields.Float(metadata={"description": ESTIMATE.text})
    precision = fields.Float(metadata={"description": PRECISION.text})


class Summary(Answer):
    """What a group learned, as it is exported; no row, no name."""

    form = fields.String()
    origin = fields.String()
    people = fields.Integer(metadata={"description": PEOPLE.text})
    reports = fields.Integer(metadata={"description": REPORTS.text})
    coefficients = fields.List(fields.Nested(CoefficientAnswer))


class Contribution(Answer):
    """What the group shares."""

    number = fields.Integer(metadata={"description": "Of the calibration it is the summary of."})
    created_at = fields.DateTime()
    summary = fields.Nested(Summary)


class WiderPool(Answer):
    """The wider pool as the group sees it."""

    used = fields.Boolean(metadata={"description": "Whether calibrations begin with it."})
    used_since = fields.DateTime(allow_none=True)
    groups = fields.Integer(metadata={"description": "Other groups whose summaries there are."})
    people = fields.Integer(metadata={"description": "People behind them, or more."})
    contribution = fields.Nested(Contribution, allow_none=True)


class PooledSummary(Answer):
    """A summary that the group may begin with."""

    id = fields.String(allow_none=True, metadata={"description": "Where it was taken in."})
    source = fields.String(metadata={"description": "here or taken in"})
    since = fields.DateTime()
    summary = fields.Nested(Summary)


class PooledSummaries(Answer):
    """All summaries that the group may begin with."""

    items = fields.List(fields.Nested(PooledSummary))
