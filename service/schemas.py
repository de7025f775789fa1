"""What the service takes, derived from the registries of the domain."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from marshmallow import fields, validate

from models.actions.activations import LONGEST_REASON
from models.domain import quantities
from models.domain.closing import CLOSINGS, USUAL_CLOSING
from models.domain.foot import MEASUREMENTS
from models.domain.policy import USUAL_PLAIN_ROUNDS
from models.domain.reports import AFTERWARDS, LONGEST, SOCK
from models.domain.reviews import Status
from models.domain.sections import SECTIONS, count_of
from service.fields import Consent, Day, Digits, Id, MayBeAbsent, Number, Strict, Text, YesOrNo


def _numbers(*group: quantities.Quantity) -> dict[str, Any]:
    return {quantity.name: Number(quantity) for quantity in group}


def _day(description: str) -> Day:
    return Day(allow_none=True, metadata={"description": description})


def _optional(quantity: quantities.Quantity, default: int) -> Number:
    return Number(quantity, required=False, load_default=default, allow_none=False)


def _one_of(names: Iterable[str], **options: Any) -> fields.String:
    wanted = f"one of {', '.join(names)}"
    return fields.String(
        validate=validate.OneOf(list(names), error=wanted),
        error_messages=dict.fromkeys(("invalid", "null", "required"), wanted),
        **options,
    )


Foot = Strict.from_dict(_numbers(*MEASUREMENTS), name="Foot")

_FOOT_OF_REQUEST = {
    "foot": fields.Nested(
        Foot,
        error_messages={"null": "leave it out, or give an object with the measurements"},
        metadata={"description": "The foot, or name it by foot_id."},
    ),
    "foot_id": Id(metadata={"description": "A foot recorded before."}),
}
_PER_ROUND = {
    "decreases_per_round": _optional(
        quantities.DECREASES_PER_ROUND, quantities.USUAL_DECREASES_PER_ROUND
    ),
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
        "close": _one_of(CLOSINGS, load_default=USUAL_CLOSING),
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
        "consent_version": Consent(),
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
        "foot_id": Id(metadata={"description": "Another foot of the reporter, measured again."}),
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
        "medium_decrease_rounds": Number(count_of("medium")),
        "plain_rounds": _optional(count_of("plain"), USUAL_PLAIN_ROUNDS),
        **_PER_ROUND,
        "personal": YesOrNo(
            load_default=False,
            metadata={"description": "Whether to answer for you too, from your own reports."},
        ),
    },
    name="NewSuggestion",
)

_DECIDED = (Status.ACCEPTED, Status.REJECTED, Status.HELD)

NewReview = Strict.from_dict(
    {
        "status": _one_of(_DECIDED, required=True),
        "from": _one_of(
            list(Status),
            load_default=Status.HELD.value,
            metadata={"description": "Its status as you read it; another by now is a conflict."},
        ),
        "text": Text(500, metadata={"description": "A note that the reporter can read, too."}),
    },
    name="NewReview",
)

NewCalibration = MayBeAbsent.from_dict({}, name="NewCalibration")
NewActivation = MayBeAbsent.from_dict(
    {
        "reason": Text(
            LONGEST_REASON, load_default=None, metadata={"description": "Why it is chosen."}
        )
    },
    name="NewActivation",
)
NewRollback = MayBeAbsent.from_dict({}, name="NewRollback")


class Paging(Strict):
    """How much of a list to answer, and from where."""

    limit = Digits(
        load_default=50,
        validate=validate.Range(1, 200, error="a whole number from 1 to 200"),
        error_messages={"invalid": "a whole number from 1 to 200"},
    )
    cursor = Id(load_default=None, metadata={"description": "`next` of the page before."})
