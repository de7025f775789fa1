"""A page that shows the OpenAPI document to people: no script, no other host."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flask import Blueprint, Response, current_app, render_template

blueprint = Blueprint("docs", __name__, template_folder="templates")

STYLE = (Path(__file__).parent / "static" / "docs.css").read_text(encoding="utf-8")

METHODS = ("get", "post", "patch", "delete")

WHO = {
    "open": "Open to everybody.",
    "either": "With a token or without.",
    "token": "Needs a token.",
}


@dataclass(frozen=True)
class Field:
    """One field of a body, or one parameter, with its type and limits in words.

    `shape` names the schema that it links to, where it holds one.
    """

    name: str
    kind: str
    required: bool
    text: str
    shape: str | None


@dataclass(frozen=True)
class Operation:
    """One operation as the page shows it."""

    method: str
    path: str
    summary: str
    description: str
    who: str
    parameters: tuple[Field, ...]
    takes: tuple[Field, ...]
    answers: tuple[tuple[str, str], ...]
    answer_fields: tuple[Field, ...]

    @property
    def anchor(self) -> str:
        """A name for links to this operation."""
        words = f"{self.method}{self.path}".lower().replace("/", "-")
        return words.replace("{", "").replace("}", "")


@blueprint.get("/docs.css")
def style() -> Response:
    """Send the page's style: a page may hold none itself."""
    return Response(STYLE, mimetype="text/css", headers={"Cache-Control": "max-age=3600"})


@blueprint.get("/docs")
def page() -> str:
    """Show the operations of the service."""
    document = current_app.extensions["openapi"].to_dict()
    tags = {tag["name"]: tag.get("description", "") for tag in document.get("tags", [])}
    sections: dict[str, list[Operation]] = {}
    for tag, operation in _operations(document):
        sections.setdefault(tag, []).append(operation)
    shapes = {
        name: tuple(_properties(schema))
        for name, schema in sorted(document["components"]["schemas"].items())
    }
    return render_template(
        "docs.html", sections=sections, tags=tags, title=document["info"], shapes=shapes
    )


def _operations(document: dict[str, Any]) -> Iterator[tuple[str, Operation]]:
    for path, item in document["paths"].items():
        for method in METHODS:
            if method in item:
                yield item[method]["tags"][0], _operation(document, path, method, item[method])


def _operation(document: dict[str, Any], path: str, method: str, told: dict[str, Any]) -> Operation:
    success = next(code for code in told["responses"] if code.startswith("2"))
    parameters = (_resolved(document, one) for one in told.get("parameters", []))
    return Operation(
        method.upper(),
        path,
        told.get("summary", ""),
        told.get("description", ""),
        WHO[_who(told)],
        tuple(_parameter(one) for one in parameters),
        tuple(_fields(document, told.get("requestBody", {}))),
        tuple(
            (code, _resolved(document, answer)["description"])
            for code, answer in told["responses"].items()
        ),
        tuple(_fields(document, told["responses"][success])),
    )


def _who(told: dict[str, Any]) -> str:
    """Return whether an operation is open, takes a token if there is one, or needs one."""
    security = told.get("security")
    if security == []:
        return "open"
    return "either" if security and {} in security else "token"


def _parameter(told: dict[str, Any]) -> Field:
    required, text = told.get("required", False), told.get("description", "")
    return Field(told["name"], f"{told['in']}, {_kind(told['schema'])}", required, text, None)


def _fields(document: dict[str, Any], part: dict[str, Any]) -> Iterator[Field]:
    media = part.get("content", {}).get("application/json")
    if media is not None:
        yield from _properties(_resolved(document, media["schema"]))


def _properties(schema: dict[str, Any]) -> Iterator[Field]:
    for name, told in schema.get("properties", {}).items():
        required = name in schema.get("required", ())
        yield Field(name, _kind(told), required, told.get("description", ""), _shape(told))


def _shape(schema: dict[str, Any]) -> str | None:
    """Return the name of the schema that a field holds, one or a list of it."""
    if "$ref" in schema:
        return str(schema["$ref"]).rsplit("/", 1)[-1]
    inner = [*schema.get("allOf", []), *schema.get("anyOf", []), schema.get("items", {})]
    return next((found for one in inner if one and (found := _shape(one))), None)


def _kind(schema: dict[str, Any]) -> str:
    """Return a type with its limits and default in words."""
    if "$ref" in schema:
        return str(schema["$ref"]).rsplit("/", 1)[-1]
    if "allOf" in schema or "anyOf" in schema:
        return " or ".join(_kind(one) for one in schema.get("allOf", schema.get("anyOf", [])))
    kinds = schema.get("type", "any")
    kind = " or ".join(kinds) if isinstance(kinds, list) else str(kinds)
    if kind == "array":
        return f"list of {_kind(schema['items'])}"
    if "minimum" in schema:
        kind = f"{kind}, {schema['minimum']:g} to {schema['maximum']:g}"
    if "enum" in schema:
        kind = f"{kind}: {', '.join(schema['enum'])}"
    return f"{kind}, {schema['default']} unless given" if "default" in schema else kind


def _resolved(document: dict[str, Any], part: dict[str, Any]) -> dict[str, Any]:
    """Follow a reference inside the document."""
    if "$ref" not in part:
        return part
    found: Any = document
    for step in part["$ref"].removeprefix("#/").split("/"):
        found = found[step]
    return dict(found)
