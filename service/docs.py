"""A page that shows the OpenAPI document to people: one file, no script, no other host."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, current_app, render_template

blueprint = Blueprint("docs", __name__, template_folder="templates")


@dataclass(frozen=True)
class Field:
    """One field of a body, with its type and limits in words."""

    name: str
    kind: str
    required: bool
    text: str


@dataclass(frozen=True)
class Operation:
    """One operation as the page shows it."""

    method: str
    path: str
    summary: str
    description: str
    open: bool
    takes: tuple[Field, ...]
    answers: tuple[tuple[str, str], ...]
    answer_fields: tuple[Field, ...]

    @property
    def anchor(self) -> str:
        """A name for links to this operation."""
        words = f"{self.method}{self.path}".lower().replace("/", "-")
        return words.replace("{", "").replace("}", "")


@blueprint.get("/docs")
def page() -> str:
    """Show the operations of the service."""
    document = current_app.extensions["openapi"].to_dict()
    tags = {tag["name"]: tag.get("description", "") for tag in document.get("tags", [])}
    sections: dict[str, list[Operation]] = {}
    for tag, operation in _operations(document):
        sections.setdefault(tag, []).append(operation)
    return render_template("docs.html", sections=sections, tags=tags, title=document["info"])


def _operations(document: dict[str, Any]) -> Iterator[tuple[str, Operation]]:
    for path, item in document["paths"].items():
        for method in ("get", "post", "patch", "delete"):
            if method in item:
                yield item[method]["tags"][0], _operation(document, path, method, item[method])


def _operation(document: dict[str, Any], path: str, method: str, told: dict[str, Any]) -> Operation:
    success = next(code for code in told["responses"] if code.startswith("2"))
    return Operation(
        method.upper(),
        path,
        told.get("summary", ""),
        told.get("description", ""),
        told.get("security") == [],
        tuple(_fields(document, told.get("requestBody", {}))),
        tuple(
            (code, _resolved(document, r)["description"]) for code, r in told["responses"].items()
        ),
        tuple(_fields(document, told["responses"][success])),
    )


def _fields(document: dict[str, Any], part: dict[str, Any]) -> Iterator[Field]:
    media = part.get("content", {}).get("application/json")
    if media is None:
        return
    schema = _resolved(document, media["schema"])
    for name, described in schema.get("properties", {}).items():
        required = name in schema.get("required", ())
        yield Field(name, _kind(described), required, described.get("description", ""))


def _kind(schema: dict[str, Any]) -> str:
    """Return a type with its limits in words."""
    if "$ref" in schema:
        return str(schema["$ref"]).rsplit("/", 1)[-1]
    if "allOf" in schema or "anyOf" in schema:
        return " or ".join(_kind(one) for one in schema.get("allOf", schema.get("anyOf", [])))
    kinds = schema.get("type", "any")
    kind = " or ".join(kinds) if isinstance(kinds, list) else str(kinds)
    if kind == "array":
        return f"list of {_kind(schema['items'])}"
    if "minimum" in schema:
        return f"{kind}, {schema['minimum']:g} to {schema['maximum']:g}"
    return f"{kind}: {', '.join(schema['enum'])}" if "enum" in schema else kind


def _resolved(document: dict[str, Any], part: dict[str, Any]) -> dict[str, Any]:
    """Follow a reference inside the document."""
    if "$ref" not in part:
        return part
    found: Any = document
    for step in part["$ref"].removeprefix("#/").split("/"):
        found = found[step]
    return dict(found)
