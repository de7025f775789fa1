"""What the service takes, derived from the registries of the domain."""

from __future__ import annotations

from typing import Any

from marshmallow import fields, validate

from models.domain import quantities
from models.domain.closing import CLOSINGS, USUAL_CLOSING
from models.domain.foot import MEASUREMENTS
from models.domain.policy import USUAL_PLAIN_ROUNDS
from models.domain.reports import AFTERWARDS, LONGEST, SOCK
from models.domain.sections import SECTIONS
from service.fields import Id, Number, Strict, Text


def _numbers(*group: quantities.Quantity) -> dict[str, Any]:
    return {quantity.name: Number(quantity) for quantity in group}


def _day(description: str) -> fields.Date:
    wanted = "a day as YYYY-MM-DD"
    return fields.Date(
        allow_none=True,
        error_messages={"invalid": wanted, "format": wanted},
        metadata={"description": description},
    )


def _optional(quantity: quantities.Quantity, default: int) -> Number:
    return Number(quantity, required=False, load_default=default, allow_none=False)


Foot = Strict.from_dict(_numbers(*MEASUREMENTS), name="Foot")

_FOOT_OF_REQUEST = {
    "foot": fields.Nested(Foot, metadata={"description": "The foot, or name it by foot_id."}),
    "foot_id": Id(metadata={"description": "A foot recorded before."}),
}
_PER_ROUND = {
    "decreases_per_round": _optional(quantities.DECREASES_PER_ROUND, 4),
}

NewFoot = Strict.from_dict(
    {
        **_numbers(*MEASUREMENTS),
        "label": Text(80, metadata={"description": "A name for yourself: left, Grandmother."}),
        "measured_on": _day("When it was measured."),
        "reporter": Text(LONGEST["reporter"], metadata={"description": "Stewards only: whose."}),
    },
    name="NewFoot",
)

NewSchedule = Strict.from_dict(
    {
        "heel_stitches": Number(quantities.HEEL_STITCHES),
        **_PER_ROUND,
        **_numbers(*(section.count for section in SECTIONS), *quantities.GAUGE),
        "close": fields.String(
            load_default=USUAL_CLOSING,
            validate=validate.OneOf(list(CLOSINGS), error=f"one of {', '.join(CLOSINGS)}"),
        ),
        "foot": fields.Nested(
            Foot,
            allow_none=True,
            metadata={"description": "With it: diagonal ease and waste-yarn placement."},
        ),
    },
    name="NewSchedule",
)

NewGroup = Strict.from_dict(
    {
        "name": Text(80, required=True, metadata={"description": "The group's name."}),
        "steward": Text(
            80,
            required=True,
            metadata={"description": "Your own name in the group."},
        ),
    },
    name="NewGroup",
)

_SOCK_DETAILS = {
    "knitted_on": _day("When the sock was finished."),
    **_numbers(*AFTERWARDS),
    "notes": Text(LONGEST["notes"], lines=True),
}

NewReport = Strict.from_dict(
    {
        "reporter": Text(LONGEST["reporter"], metadata={"description": "Stewards only: whose."}),
        **_FOOT_OF_REQUEST,
        **_numbers(*SOCK),
        **_PER_ROUND,
        "design": Text(LONGEST["design"]),
        "size": Text(LONGEST["size"]),
        "suggestion_id": Id(metadata={"description": "The suggestion that was followed."}),
        **_SOCK_DETAILS,
    },
    name="NewReport",
)

ReportChange = Strict.from_dict(
    {
        **{
            quantity.name: Number(quantity, required=False, allow_none=False)
            for quantity in (*SOCK, quantities.DECREASES_PER_ROUND)
        },
        **_SOCK_DETAILS,
    },
    name="ReportChange",
)

NewSuggestion = Strict.from_dict(
    {
        **_FOOT_OF_REQUEST,
        **_numbers(
            quantities.YARN_WEIGHT,
            *quantities.GAUGE,
            quantities.HEEL_STITCHES,
            quantities.CLOSING_STITCHES,
        ),
        "medium_decrease_rounds": Number(SECTIONS[2].count),
        "plain_rounds": _optional(SECTIONS[0].count, USUAL_PLAIN_ROUNDS),
        **_PER_ROUND,
    },
    name="NewSuggestion",
)

NewCalibration = Strict.from_dict({}, name="NewCalibration")


class Paging(Strict):
    """How much of a list to answer, and from where."""

    limit = fields.Integer(
        load_default=50,
        validate=validate.Range(1, 200, error="a whole number from 1 to 200"),
        error_messages={"invalid": "a whole number from 1 to 200"},
    )
    cursor = Id(load_default=None, metadata={"description": "`next` of the page before."})
