"""Marshmallow fields that take their limits and words from the domain."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from apispec.ext.marshmallow.openapi import OpenAPIConverter
from marshmallow import Schema, ValidationError, fields

from models.domain.plausibility import hinted
from models.domain.quantities import Quantity
from models.domain.texts import stored_text, wanted_text


class Number(fields.Field[float]):
    """A number within a quantity's limits; text, booleans and fractions of a stitch are refused."""

    def __init__(self, quantity: Quantity, **options: Any) -> None:
        options.setdefault("required", quantity.required)
        options.setdefault("allow_none", not options["required"])
        super().__init__(
            error_messages={"required": quantity.wanted, "null": quantity.wanted},
            metadata={"description": quantity.text},
            **options,
        )
        self.quantity = quantity

    def _deserialize(self, value: Any, *_args: Any, **_options: Any) -> Any:
        if self.quantity.integer and isinstance(value, float) and value.is_integer():
            value = int(value)  # to JSON, 3.0 is an integer
        fault = self.quantity.fault(value)
        if fault is not None:
            raise ValidationError(hinted(fault).wanted)
        return value


class Text(fields.String):
    """Text that can be stored anywhere and shown: trimmed, not empty, no control characters."""

    def __init__(self, longest: int, *, lines: bool = False, **options: Any) -> None:
        options.setdefault("allow_none", not options.get("required", False))
        self.longest, self.lines = longest, lines
        self.wanted = wanted_text(longest, lines=lines)
        super().__init__(
            error_messages={"required": self.wanted, "null": self.wanted, "invalid": self.wanted},
            **options,
        )

    def _deserialize(self, value: Any, *args: Any, **options: Any) -> str:
        given = super()._deserialize(value, *args, **options) or ""
        text = stored_text(given, self.longest, lines=self.lines)
        if text is None:
            raise ValidationError(self.wanted)
        return text


class Id(fields.String):
    """An opaque identifier that this service gave."""

    PATTERN = "^[0-9a-f]{32}$"

    def __init__(self, **options: Any) -> None:
        wanted = "an id as this service gave it: 32 characters from 0-9 and a-f"
        super().__init__(error_messages={"invalid": wanted, "null": wanted}, **options)
        self.wanted = wanted

    def _deserialize(self, value: Any, *args: Any, **options: Any) -> str:
        text = super()._deserialize(value, *args, **options) or ""
        if len(text) != 32 or text.strip("0123456789abcdef"):
            raise ValidationError(self.wanted)
        return text


class YesOrNo(fields.Boolean):
    """True or false; no other word or number stands for either."""

    def __init__(self, **options: Any) -> None:
        self.wanted = "true or false"
        super().__init__(error_messages={"null": self.wanted}, **options)

    def _deserialize(self, value: Any, *_args: Any, **_options: Any) -> bool:
        if not isinstance(value, bool):
            raise ValidationError(self.wanted)
        return value


class Day(fields.Date):
    """A day, written in the one way that RFC 3339 has for it."""

    def __init__(self, **options: Any) -> None:
        wanted = "a day as YYYY-MM-DD"
        super().__init__(error_messages={"invalid": wanted, "format": wanted}, **options)

    def _deserialize(self, value: Any, *args: Any, **options: Any) -> date:
        if not isinstance(value, str) or not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
            raise self.make_error("invalid")
        return super()._deserialize(value, *args, **options)


class Digits(fields.Integer):
    """A whole number in a query, in plain digits."""

    def _deserialize(self, value: Any, *args: Any, **options: Any) -> int:
        if not isinstance(value, str) or not re.fullmatch("[0-9]{1,9}", value):
            raise self.make_error("invalid")
        return super()._deserialize(value, *args, **options)


class Strict(Schema):
    """A schema that names its fields when it is given one it does not have."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        names = ", ".join(self.fields) or "none"
        self.error_messages["unknown"] = f"no such field; fields are {names}"
        self.error_messages["type"] = f"an object with the fields {names}"


class MayBeAbsent(Strict):
    """A schema of a body that may be left out, which is the same as an empty object."""


def describe(
    _converter: OpenAPIConverter, field: fields.Field[Any], **_options: Any
) -> dict[str, Any]:
    """Return what OpenAPI should say of our fields; given to apispec as an attribute function."""
    if isinstance(field, Number):
        kind = "integer" if field.quantity.integer else "number"
        limits = {"minimum": field.quantity.low, "maximum": field.quantity.high}
        if field.quantity.integer:
            limits = {name: int(limit) for name, limit in limits.items()}
        return {"type": [kind, "null"] if field.allow_none else kind, **limits}
    if isinstance(field, Text):
        return {"minLength": 1, "maxLength": field.longest}
    if isinstance(field, Id):
        return {"pattern": Id.PATTERN}
    return {}


def always(wanted: str) -> dict[str, Any]:
    """Return the messages of a field that says the same whatever is wrong."""
    return dict.fromkeys(("required", "null", "invalid"), wanted)


class Consent(fields.Integer):
    """The version of the text at GET /v1/consent that somebody agrees to."""

    def __init__(self, **options: Any) -> None:
        super().__init__(
            required=True,
            strict=True,
            error_messages=always("the version of the text at GET /v1/consent"),
            metadata={"description": "The version of GET /v1/consent that you agree to."},
            **options,
        )
