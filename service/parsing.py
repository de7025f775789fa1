"""Reading requests: webargs with our strict JSON, and its complaints as the domain's faults."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import islice
from typing import Any, NoReturn

from flask import Request, g, request
from marshmallow import Schema, ValidationError
from webargs.flaskparser import FlaskParser
from werkzeug.exceptions import BadRequest

from models.domain.errors import WHOLE, Fault, Invalid
from service.fields import MayBeAbsent
from service.strict_json import strict_body

MOST_TOLD = 100
"""Faults that are told of one request: one of nothing but faults must not get a longer answer."""

COVERED = "(not shown)"
"""What stands for a password or a code where faults name what was given."""


class StrictParser(FlaskParser):
    """Webargs' parser for Flask, refusing what it would let pass."""

    DEFAULT_UNKNOWN_BY_LOCATION = {"json": None, "query": "raise"}  # noqa: RUF012

    def load_json(self, req: Request, schema: Schema) -> Any:
        """Return the body; an absent one of an operation that needs none is an empty object."""
        if not req.content_length and not req.mimetype:
            if not isinstance(schema, MayBeAbsent):
                raise BadRequest("send a body of media type application/json")
            g.body = {}
            return g.body
        return strict_body(req)

    def handle_error(self, error: ValidationError, *request_and_schema: Any, **_: Any) -> NoReturn:
        """Raise `Invalid` with every field that marshmallow complained about."""
        schema: Schema = request_and_schema[1]
        found = (
            fault
            for location, messages in error.messages_dict.items()
            for fault in faults_of(messages, _shown(schema, location))
        )
        raise Invalid(islice(found, MOST_TOLD)) from error


def _shown(schema: Schema, location: str) -> Any:
    """Return what was given, with secrets covered up: an answer may be logged on its way."""
    given = g.body if location == "json" else request.args
    if not isinstance(given, Mapping):
        return given
    secret = {name for name, field in schema.fields.items() if field.load_only}
    return {name: COVERED if name in secret else value for name, value in given.items()}


def faults_of(messages: Any, given: Any, path: tuple[str, ...] = ()) -> Iterator[Fault]:
    """Yield a fault for every message, with the value that was given at its path."""
    if isinstance(messages, Mapping):
        for name, inner in messages.items():
            if name == "_schema":
                yield from faults_of(inner, given, path)
            else:
                value = given.get(name) if isinstance(given, Mapping) else None
                yield from faults_of(inner, value, (*path, str(name)))
        return
    for message in messages:
        yield Fault(".".join(path) or WHOLE, given, str(message))
