"""What the service answers of reviews."""

from __future__ import annotations

from copy import copy
from typing import Any

from marshmallow import fields

from models.actions.reviews import ALWAYS_SHOWN
from models.domain.foot import MEASUREMENTS
from service.answers import REPORT, Answer, numbers, page_of


def _or_null(field: fields.Field[Any]) -> fields.Field[Any]:
    found = copy(field)
    found.allow_none = True
    return found


HeldReport = Answer.from_dict(
    {
        **{
            name: field if name in ALWAYS_SHOWN else _or_null(field)
            for name, field in {**REPORT, **numbers(*MEASUREMENTS)}.items()
        },
        "withheld": fields.Boolean(
            metadata={
                "description": "True where a steward held by hand the report of a member who has "
                "joined: what it says is null until its reporter answers by a correction."
            }
        ),
    },
    name="HeldReport",
)
HeldReports = page_of(HeldReport, "HeldReports")


class Review(Answer):
    """One step in what became of a report."""

    id = fields.String()
    report_id = fields.String()
    status = fields.String(metadata={"description": "What the report became."})
    reason = fields.String(allow_none=True, metadata={"description": "Why it was doubted."})
    text = fields.String(allow_none=True)
    reviewer = fields.String(
        allow_none=True, metadata={"description": "Null where the service or its operator did it."}
    )
    created_at = fields.DateTime()


Reviews = page_of(Review, "Reviews")
