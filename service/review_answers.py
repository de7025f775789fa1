"""What the service answers of reviews."""

from __future__ import annotations

from marshmallow import fields

from models.domain.foot import MEASUREMENTS
from service.answers import REPORT, Answer, numbers, page_of

HeldReport = Answer.from_dict({**REPORT, **numbers(*MEASUREMENTS)}, name="HeldReport")
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
