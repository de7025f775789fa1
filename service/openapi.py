"""The OpenAPI document, and flask-smorest bent to our errors."""

from __future__ import annotations

import http
from collections.abc import Iterator
from typing import Any

from apispec import BasePlugin
from flask import Flask, Response
from flask_smorest import Api
from werkzeug.exceptions import HTTPException
from werkzeug.routing import BaseConverter

from service import answers
from service.api import (
    accounts,
    calibrations,
    defaults,
    designs,
    exports,
    feet,
    groups,
    health,
    imports,
    invitations,
    jobs,
    me,
    members,
    outcomes,
    reference,
    reports,
    reviews,
    schedules,
    suggestions,
    tables,
    tokens,
    wider_pool,
)
from service.fields import describe
from service.problems import from_framework
from service.sessions import COOKIE, CSRF_HEADER

BLUEPRINTS = (
    reference.blueprint,
    schedules.blueprint,
    groups.blueprint,
    invitations.blueprint,
    members.blueprint,
    me.blueprint,
    tokens.blueprint,
    accounts.blueprint,
    feet.blueprint,
    reports.blueprint,
    reviews.blueprint,
    imports.blueprint,
    exports.blueprint,
    jobs.blueprint,
    calibrations.blueprint,
    outcomes.blueprint,
    wider_pool.blueprint,
    suggestions.blueprint,
    designs.blueprint,
    defaults.blueprint,
    tables.blueprint,
    health.blueprint,
)


RETRY_AFTER = {
    "description": "How many seconds to wait.",
    "schema": {"type": "integer", "minimum": 1},
}


class HexId(BaseConverter):
    """An opaque id in a path; anything else is simply not found."""

    regex = "[0-9a-f]{32}"


class Refusals(BasePlugin):
    """Document who may ask, and what may be refused beside what the view itself says."""

    OF_EVERYBODY = ("BAD_REQUEST", "UNSUPPORTED_MEDIA_TYPE", "SERVICE_UNAVAILABLE")
    OF_THE_KNOWN = ("UNAUTHORIZED", "FORBIDDEN", "NOT_FOUND", "CONFLICT")

    def operation_helper(
        self,
        path: str | None = None,
        operations: dict[str, Any] | None = None,
        **_options: Any,
    ) -> None:
        """Add the responses to an operation, as apispec asks its plugins to."""
        in_group = "{group_id}" in (path or "")
        for operation in (operations or {}).values():
            for name in self._refused(operation):
                operation["responses"].setdefault(str(http.HTTPStatus[name].value), name)
            if "x-action" in operation:
                told = (operation.get("description", ""), _who_may(operation, in_group=in_group))
                operation["description"] = "\n\n".join(filter(None, told))

    @classmethod
    def _refused(cls, operation: dict[str, Any]) -> Iterator[str]:
        yield from cls.OF_EVERYBODY
        if "x-action" in operation:
            yield from cls.OF_THE_KNOWN
        if "x-limit" in operation:
            yield "TOO_MANY_REQUESTS"


def _who_may(operation: dict[str, Any], *, in_group: bool) -> str:
    """Return who may ask, in words, from what the operation declares."""
    scopes = ", ".join(operation["x-scopes"])
    roles = ", ".join(operation["x-roles"]) if in_group else "everybody for themselves"
    return f"Who may: {roles}. Scope of the token: {scopes}."


class ProblemApi(Api):
    """flask-smorest's Api, whose errors are problems in answers and in the document."""

    ERROR_SCHEMA = answers.Problem

    def handle_http_exception(self, error: HTTPException) -> Response:
        """Answer a framework error as a problem, keeping its headers (Allow, Retry-After)."""
        return from_framework(error)

    def _register_responses(self) -> None:
        """Document every error as application/problem+json."""
        described = [(status.name, status.phrase, status.value) for status in http.HTTPStatus]
        for name, phrase, code in [*described, ("DEFAULT_ERROR", "Any other error", 500)]:
            response: dict[str, Any] = {"description": phrase}
            if code >= 400:
                response["content"] = {"application/problem+json": {"schema": answers.Problem}}
            if code == http.HTTPStatus.TOO_MANY_REQUESTS:
                response["headers"] = {"Retry-After": RETRY_AFTER}
            self.spec.components.response(name, response, lazy=True)


def register(app: Flask) -> None:
    """Add all operations and the document that describes them to an application."""
    app.url_map.converters["hexid"] = HexId
    app.config.update(
        API_TITLE="heeldepth",
        API_VERSION="v1",
        OPENAPI_VERSION="3.1.0",
        OPENAPI_URL_PREFIX="/",
        API_SPEC_OPTIONS={
            "info": {
                "description": "Learns heel depth from finished hand-knit socks.",
                "license": {"name": "MIT", "identifier": "MIT"},
            },
            "security": [{"token": []}, {"session": [], "csrf": []}],
        },
    )
    api = ProblemApi(app, spec_kwargs={"extra_plugins": [Refusals()]})
    api.register_converter(HexId, lambda _c: {"type": "string", "pattern": f"^{HexId.regex}$"})
    api.ma_plugin.converter.add_attribute_function(describe)
    api.spec.components.security_scheme("token", {"type": "http", "scheme": "bearer"})
    for name, header in (("session", ("cookie", COOKIE)), ("csrf", ("header", CSRF_HEADER))):
        where = {"type": "apiKey", "in": header[0], "name": header[1]}
        api.spec.components.security_scheme(name, where)
    for blueprint in BLUEPRINTS:
        api.register_blueprint(blueprint)
    app.extensions["openapi"] = api.spec
