"""What the service takes and answers about designs, derived from the domain's registry."""

from __future__ import annotations

from typing import Any

from marshmallow import fields

from models.domain.quantities import Quantity
from models.domain.reports import LONGEST
from models.domain.sizes import LONGEST_LABEL, MOST_SIZES, NUMBERS, OPTIONAL_NUMBERS
from service.answers import Answer, page_of
from service.fields import Number, Strict, Text

_POSITION = Quantity(
    "position", 1, 1000, "", "Where the size stands in the design's list.", integer=True
)


def _changeable(*group: Quantity) -> dict[str, Any]:
    return {one.name: Number(one, required=False, allow_none=False) for one in group}


def _shown(*group: Quantity) -> dict[str, fields.Field[Any]]:
    """Return fields that may be null: a size that was only named has no numbers."""
    return {
        one.name: (fields.Integer if one.integer else fields.Float)(
            allow_none=True, metadata={"description": one.text}
        )
        for one in group
    }


def _named(description: str) -> Text:
    return Text(LONGEST["design"], required=True, metadata={"description": description})


NewDesign = Strict.from_dict({"name": _named("The design's name.")}, name="NewDesign")
DesignChange = Strict.from_dict({"name": _named("Its new name.")}, name="DesignChange")
_OPTIONAL = {one.name: Number(one, required=False) for one in OPTIONAL_NUMBERS}

NewSize = Strict.from_dict(
    {
        "label": Text(LONGEST_LABEL, required=True, metadata={"description": "The size's name."}),
        **{one.name: Number(one) for one in NUMBERS},
        **_OPTIONAL,
    },
    name="NewSize",
)
SizeChange = Strict.from_dict(
    {
        "label": Text(LONGEST_LABEL, allow_none=False),
        **_changeable(_POSITION, *NUMBERS),
        **_OPTIONAL,
    },
    name="SizeChange",
)


class Design(Answer):
    """A design."""

    id = fields.String()
    version = fields.Integer()
    name = fields.String()
    created_at = fields.DateTime()


Designs = page_of(Design, "Designs")

Size = Answer.from_dict(
    {
        "id": fields.String(),
        "version": fields.Integer(),
        "position": fields.Integer(),
        "label": fields.String(),
        **_shown(*NUMBERS, *OPTIONAL_NUMBERS),
        "created_at": fields.DateTime(),
    },
    name="Size",
)


class Sizes(Answer):
    """The sizes of a design in its designer's order."""

    items = fields.List(
        fields.Nested(Size), metadata={"description": f"At most {MOST_SIZES}: all of them."}
    )
