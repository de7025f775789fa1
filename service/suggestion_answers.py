"""What a suggestion says: its schemas, for documentation."""

from __future__ import annotations

from marshmallow import fields

from service.answers import Answer, Caveat, EvidenceCounts, HeelDiagonal, SuggestedSchedule

_RANGE = "With 80 % the best number of rounds for such feet, from which single socks vary,"


class PersonalAnswer(Answer):
    """What suits the asker, going by the asker's own reports."""

    slow_decrease_rounds = fields.Integer()
    depth_mm = fields.Float()
    chance_just_right = fields.Float()
    reports = fields.Integer(metadata={"description": "Your own, on which this rests."})


class Candidate(Answer):
    """One number of slow-decrease rounds."""

    slow_decrease_rounds = fields.Integer()
    depth_mm = fields.Float()
    chance_just_right = fields.Float()
    chance_too_shallow = fields.Float(metadata={"description": "Of a score below 0."})
    chance_too_deep = fields.Float(metadata={"description": "Of a score above 0."})


class FineAdjustment(Candidate):
    """Plain and slow-decrease rounds chosen together."""

    plain_rounds = fields.Integer(
        metadata={"description": "Ask again with so many to get the schedule."}
    )


class WorthMeasuring(Answer):
    """The measurement that would narrow the answer most."""

    measurement = fields.String(metadata={"description": "Its field in the foot."})
    range_rounds_now = fields.Float(
        metadata={"description": "Width of the 80 % range before rounding, slow-decrease rounds."}
    )
    range_rounds_then = fields.Float(metadata={"description": "Its mean once this is measured."})
    chance_now = fields.Float(metadata={"description": "Of just right."})
    chance_then = fields.Float(metadata={"description": "Its mean once this is measured."})


class Suggestion(Candidate):
    """The answer to a question, as it was given."""

    id = fields.String()
    calibration_id = fields.String(allow_none=True)
    created_at = fields.DateTime()
    yarn_weight = fields.Integer(metadata={"description": "As it was asked for."})
    low = fields.Integer(metadata={"description": f"{_RANGE} is not below this."})
    high = fields.Integer(metadata={"description": f"{_RANGE} is not above this."})
    established = fields.Boolean(
        metadata={
            "description": "False where the reports do not establish that a deeper heel is felt as "
            "deeper: geometry answers alone then."
        }
    )
    neighbours = fields.List(fields.Nested(Candidate))
    curve = fields.List(fields.Nested(Candidate))
    fine_adjustment = fields.Nested(
        FineAdjustment,
        allow_none=True,
        metadata={"description": "Better by at least .005 with other plain rounds, or null."},
    )
    worth_measuring = fields.Nested(
        WorthMeasuring,
        allow_none=True,
        metadata={"description": "What would narrow the answer most, or null."},
    )
    personal = fields.Nested(
        PersonalAnswer,
        allow_none=True,
        metadata={"description": "Null unless asked for and you have reports that count."},
    )
    heel_diagonal = fields.Nested(HeelDiagonal)
    evidence = fields.Nested(EvidenceCounts)
    warnings = fields.List(fields.Nested(Caveat))
    schedule = fields.Nested(SuggestedSchedule)
    cautions = fields.List(fields.String())


class SuggestionItem(Answer):
    """A suggestion in a list: what it says to knit."""

    id = fields.String()
    calibration_id = fields.String(allow_none=True)
    created_at = fields.DateTime()
    slow_decrease_rounds = fields.Integer()
    depth_mm = fields.Float()
    chance_just_right = fields.Float()
    yarn_weight = fields.Integer()
    schedule = fields.Nested(SuggestedSchedule)
    reports = fields.Integer(metadata={"description": "Reported socks that followed it."})


class Suggestions(Answer):
    """A page of suggestions."""

    items = fields.List(fields.Nested(SuggestionItem))
    next = fields.String(allow_none=True, metadata={"description": "The cursor of the next page."})
