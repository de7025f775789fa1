"""What the service answers where the card of a calibration is asked for."""

from __future__ import annotations

from marshmallow import fields

from service.answers import Answer, JudgedCalibration


class CardRow(Answer):
    label = fields.String()
    at = fields.Float(
        allow_none=True, metadata={"description": "Where a row lies on the axis of its section."}
    )
    value = fields.Float(allow_none=True)
    second = fields.Float(allow_none=True)
    low = fields.Float(allow_none=True)
    high = fields.Float(allow_none=True)
    standard_error = fields.Float(allow_none=True)
    reports = fields.Integer(allow_none=True)
    people = fields.Integer(allow_none=True)


class CardSection(Answer):
    key = fields.String()
    title = fields.String()
    sentences = fields.List(fields.String())
    columns = fields.Dict(
        keys=fields.String(),
        values=fields.String(),
        metadata={"description": "The fields of a row that the section uses, with headings."},
    )
    rows = fields.List(fields.Nested(CardRow))


class Card(JudgedCalibration):
    fingerprint = fields.String(allow_none=True)
    withheld = fields.String(allow_none=True)
    sections = fields.List(fields.Nested(CardSection))
