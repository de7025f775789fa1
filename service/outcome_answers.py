"""What the service answers of outcomes."""

from __future__ import annotations

from marshmallow import fields

from service.answers import EXACT_OR_IN_TENS, Answer, many


class OutcomeBand(Answer):
    """Reports of about one stated chance."""

    followed = fields.Boolean(
        allow_none=True,
        metadata={"description": "Whether its suggestions were followed; null where both are in."},
    )
    low = fields.Float(metadata={"description": "Least stated chance of just right."})
    high = fields.Float(metadata={"description": "Largest stated chance of just right."})
    reports = fields.Integer()
    reporters = fields.Integer()
    stated = fields.Float(metadata={"description": "Mean stated chance of just right."})
    achieved = fields.Float(metadata={"description": "Share that was just right."})


def _figure(description: str) -> fields.Float:
    return fields.Float(allow_none=True, metadata={"description": description})


class Outcomes(Answer):
    """What came of a calibration."""

    calibration_id = fields.String()
    number = fields.Integer()
    reports = fields.Integer(
        allow_none=True,
        metadata={"description": f"Reports that came after the calibration. {EXACT_OR_IN_TENS}"},
    )
    reporters = fields.Integer(allow_none=True, metadata={"description": EXACT_OR_IN_TENS})
    stated = _figure("Mean stated chance of just right at what was worked.")
    achieved = _figure("Share that was just right.")
    shift = _figure("Mean of score less expected score.")
    shift_low = _figure("With 95 % the shift is not below this.")
    shift_high = _figure("With 95 % the shift is not above this.")
    drift = fields.Boolean(
        allow_none=True, metadata={"description": "Whether chance does not explain the shift."}
    )
    table = many(OutcomeBand)
    withheld = fields.String(allow_none=True)
    text = fields.String()
