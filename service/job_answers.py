"""What the service answers about jobs, and about files that were taken in."""

from __future__ import annotations

from marshmallow import fields, validate

from models.domain.jobs import State
from service.answers import Answer, ProblemError, many, page_of


class Job(Answer):
    """Work in the background."""

    id = fields.String()
    kind = fields.String()
    state = fields.String(validate=validate.OneOf(list(State)))
    done = fields.Integer(metadata={"description": "Steps done, of `total` where that is known."})
    total = fields.Integer(allow_none=True)
    result = fields.Dict(
        allow_none=True,
        metadata={"description": "What came of it: counts, ids, rows that were left out."},
    )
    problem = fields.Dict(
        allow_none=True, metadata={"description": "Why it failed, as a problem (RFC 9457)."}
    )
    created_at = fields.DateTime()
    started_at = fields.DateTime(allow_none=True)
    cancel_asked_at = fields.DateTime(allow_none=True)
    ended_at = fields.DateTime(allow_none=True)


Jobs = page_of(Job, "Jobs")


class ImportedRow(Answer):
    """What became of one row of a file, or would."""

    row = fields.Integer(metadata={"description": "As a spreadsheet numbers it: headings are 1."})
    state = fields.String(validate=validate.OneOf(["taken", "known", "left out", "wrong"]))
    errors = many(ProblemError)
    doubts = many(ProblemError)


class Imported(Answer):
    """What became of a file, or would; rows that were blank are not mentioned."""

    dry_run = fields.Boolean()
    taken = fields.Integer()
    known = fields.Integer()
    left_out = fields.Integer(metadata={"description": "Rows that are wrong."})
    rows = many(ImportedRow)
