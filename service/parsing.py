"""Reading requests: webargs with our strict JSON, and its complaints as the domain's faults."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NoReturn

from flask import Request, g, request
from marshmallow import Schema, ValidationError
from webargs.flaskparser import FlaskParser
from werkzeug.exceptions import BadRequest

from models.domain.errors import WHOLE, Fault, Invalid
from service.fields import MayBeAbsent
from service.strict_json import strict_body


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

    def handle_error(self, error: ValidationError, *_args: Any, **_options: Any) -> NoReturn:
        """Raise `Invalid` with every field that marshmallow complained about."""
        raise Invalid(
            fault
            for location, messages in error.messages_dict.items()
            for fault in _faults(messages, g.body if location == "json" else request.args)
        ) from error


def _faults(messages: Any, given: Any, path: tuple[str, ...] = ()) -> Iterator[Fault]:
    """Yield a fault for every message, with the value that was given at its path."""
    if isinstance(messages, Mapping):
        for name, inner in messages.items():
            if name == "_schema":
                yield from _faults(inner, given, path)
            else:
                value = given.get(name) if isinstance(given, Mapping) else None
                yield from _faults(inner, value, (*path, str(name)))
        return
    for message in messages:
        yield Fault(".".join(path) or WHOLE, given, str(message))
