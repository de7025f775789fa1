"""What the service answers: schemas for documentation and for dumping single objects."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema, fields, validate

from models.domain.foot import MEASUREMENTS
from models.domain.quantities import DECREASES_PER_ROUND, GAUGE, HEEL_STITCHES, Quantity
from models.domain.reports import AFTERWARDS, SOCK
from models.domain.reviews import Status
from models.domain.sections import SECTIONS


class Answer(Schema):
    """A schema of something answered: every field is always there."""

    def on_bind_field(self, _field_name: str, field_obj: fields.Field[Any]) -> None:
        """Mark a field as required, for the document; dumping does not ask."""
        field_obj.required = True


def _number(quantity: Quantity) -> fields.Field[Any]:
    kind = fields.Integer if quantity.integer else fields.Float
    return kind(allow_none=not quantity.required, metadata={"description": quantity.text})


def numbers(*group: Quantity) -> dict[str, fields.Field[Any]]:
    """Return a field for each quantity, by name."""
    return {quantity.name: _number(quantity) for quantity in group}


def many(schema: type[Schema]) -> fields.List[Any]:
    """Return the field of a list of objects."""
    return fields.List(fields.Nested(schema))


def page_of(schema: type[Schema], name: str) -> type[Schema]:
    """Return the schema of a page: items, and the cursor of the next page or null."""
    return Answer.from_dict(
        {"items": many(schema), "next": fields.String(allow_none=True)}, name=name
    )


class ProblemError(Answer):
    """One thing wrong with one field."""

    pointer = fields.String(metadata={"description": "JSON pointer to the field."})
    value = fields.Raw(allow_none=True)
    wanted = fields.String()
    detail = fields.String()


class Problem(Schema):
    """Problem details, RFC 9457."""

    type = fields.String()
    title = fields.String()
    status = fields.Integer()
    detail = fields.String()
    errors = many(ProblemError)


class YarnWeight(Answer):
    number = fields.Integer()
    name = fields.String()
    stitches_per_4in_low = fields.Integer()
    stitches_per_4in_high = fields.Integer()
    stitches_per_10cm_low = fields.Float()
    stitches_per_10cm_high = fields.Float()


class YarnWeights(Answer):
    source = fields.String()
    items = many(YarnWeight)


class Group(Answer):
    id = fields.String()
    name = fields.String()
    role = fields.String()
    created_at = fields.DateTime()


class NewGroupAnswer(Group):
    token = fields.String(
        allow_none=True, metadata={"description": "Shown this once; null where you had one."}
    )


class Groups(Answer):
    items = many(Group)


FootMeasurements = Schema.from_dict(numbers(*MEASUREMENTS), name="FootMeasurements")

Foot = Answer.from_dict(
    {
        "id": fields.String(),
        "reporter": fields.String(),
        "label": fields.String(allow_none=True),
        **numbers(*MEASUREMENTS),
        "measured_on": fields.Date(allow_none=True),
        "created_at": fields.DateTime(),
    },
    name="FootAnswer",
)
Feet = page_of(Foot, "Feet")

REPORT: dict[str, fields.Field[Any]] = {
    "id": fields.String(),
    "version": fields.Integer(),
    "reporter": fields.String(),
    "foot_id": fields.String(),
    "suggestion_id": fields.String(allow_none=True),
    "design": fields.String(allow_none=True),
    "size": fields.String(allow_none=True),
    **numbers(*SOCK, DECREASES_PER_ROUND),
    "knitted_on": fields.Date(allow_none=True),
    **numbers(*AFTERWARDS),
    "notes": fields.String(allow_none=True),
    "status": fields.String(
        validate=validate.OneOf(list(Status)),
        metadata={"description": "Held and rejected reports are not learned from."},
    ),
    "held_because": fields.String(
        allow_none=True, metadata={"description": "Why it is held, in words."}
    ),
    "created_at": fields.DateTime(),
    "updated_at": fields.DateTime(),
}
Report = Answer.from_dict(REPORT, name="Report")
Reports = page_of(Report, "Reports")


IN_TENS = {"description": "In tens, rounded down. Null where fewer than ten people reported."}
EXACT_OR_IN_TENS = (
    "Exact for those who calibrate, for others in tens, or null where fewer than ten reported."
)


class Pending(Answer):
    """A result that is not there yet."""

    state = fields.String(metadata={"description": "pending"})
    detail = fields.String()


class CalibrationSummary(Answer):
    id = fields.String()
    number = fields.Integer()
    reports = fields.Integer(allow_none=True, metadata={"description": EXACT_OR_IN_TENS})
    reporters = fields.Integer(allow_none=True, metadata={"description": EXACT_OR_IN_TENS})
    created_at = fields.DateTime()
    active = fields.Boolean()
    standing = fields.String(
        metadata={"description": "active; waiting: it never answered; replaced: it once did."}
    )


class Coefficient(Answer):
    term = fields.String()
    mean = fields.Float(
        metadata={"description": "Latent units per unit of the term; 1 is the sd of one sock."}
    )
    standard_error = fields.Float()


class JudgedCalibration(CalibrationSummary):
    prior = fields.String(
        metadata={"description": "What it began with: geometry, or geometry and a wider pool."}
    )
    reasons = fields.List(
        fields.String(), metadata={"description": "Why it answers, or why it waits."}
    )


class Calibration(JudgedCalibration):
    estimator = fields.String()
    fingerprint = fields.String(
        allow_none=True, metadata={"description": "SHA-256 of the sorted rows."}
    )
    coefficients = fields.List(fields.Nested(Coefficient), allow_none=True)
    noise_variance = fields.Float(allow_none=True)
    withheld = fields.String(allow_none=True)


Calibrations = page_of(CalibrationSummary, "Calibrations")


class HeelDiagonal(Answer):
    value_mm = fields.Float()
    sd_mm = fields.Float(metadata={"description": "0 where it was measured."})
    measured = fields.Boolean()


class Caveat(Answer):
    code = fields.String()
    text = fields.String()


class EvidenceCounts(Answer):
    reports = fields.Integer(allow_none=True, metadata=IN_TENS)
    reporters = fields.Integer(allow_none=True, metadata=IN_TENS)


_SCHEDULE = {
    **numbers(HEEL_STITCHES, DECREASES_PER_ROUND),
    **numbers(*(section.count for section in SECTIONS), *GAUGE),
}

SuggestedSchedule = Answer.from_dict(
    {**_SCHEDULE, "foot": fields.Nested(FootMeasurements)}, name="SuggestedSchedule"
)


class PickUp(Answer):
    lower = fields.Integer()
    upper = fields.Integer()
    fewest = fields.Integer()
    most = fields.Integer()
    from_corners = fields.Integer()
    quarters = fields.List(fields.Integer())


class Round(Answer):
    number = fields.Integer()
    section = fields.String()
    decreases = fields.Integer()
    stitches_before = fields.Integer()
    stitches_after = fields.Integer()


class Step(Answer):
    section = fields.String()
    text = fields.String()
    first_round = fields.Integer(allow_none=True)
    last_round = fields.Integer(allow_none=True)
    stitches_before = fields.Integer()
    stitches_after = fields.Integer()


class WasteYarn(Answer):
    toe_to_waste_yarn_mm = fields.Float()
    toe_to_waste_yarn_rounds = fields.Integer()
    toe_up = fields.String()
    cuff_down = fields.String()


class Schedule(Answer):
    heel_stitches = fields.Integer()
    remainder = fields.Integer(
        metadata={"description": "Stitches decreased in the first plain round to come out even."}
    )
    closing_stitches = fields.Integer()
    total_rounds = fields.Integer()
    depth_mm = fields.Float()
    diagonal_ease = fields.Float(allow_none=True)
    heel_diagonal = fields.Nested(HeelDiagonal, allow_none=True)
    pick_up = fields.Nested(PickUp)
    rounds = many(Round)
    instructions = many(Step)
    waste_yarn = fields.Nested(WasteYarn, allow_none=True)
    warnings = many(Caveat)
    cautions = fields.List(fields.String())


class Health(Answer):
    status = fields.String()


class Readiness(Answer):
    status = fields.String()
    database = fields.String()
    migrations = fields.String()
