"""Forms of a few fields: what they ask for, what was sent, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Protocol

from flask import render_template, request
from marshmallow import Schema, ValidationError

from models.domain.errors import (
    Closed,
    Conflict,
    Fault,
    Forbidden,
    Invalid,
    NotFound,
    Unauthenticated,
)
from service.pages.reading import Problem
from service.pages.words import spoken
from service.parsing import faults_of
from service.work import undo

REFUSALS = (Unauthenticated, Forbidden, NotFound, Conflict, Closed)
"""What may be said beside the field that it is about, so that the form can be sent again."""


@dataclass(frozen=True)
class Field:
    """One field of a form.

    `value` is that of a ticked box; `wanted` says what would be right where the schema does not.
    """

    name: str
    label: str
    hint: str = ""
    kind: str = "text"
    autocomplete: str = "off"
    value: str = ""
    wanted: str = ""


@dataclass(frozen=True)
class Form:
    """A form: what it is about, its fields, and what its button says."""

    title: str
    button: str
    fields: tuple[Field, ...]

    def given(self) -> dict[str, str]:
        """Return what was sent; a field left empty counts as left out."""
        sent = {one.name: request.form.get(one.name, "") for one in self.fields}
        return {name: text for name, text in sent.items() if text.strip()}

    def shown(self, template: str = "pages/form.html", **more: Any) -> str:
        """Return the page of the form, with what was sent before and the problems with it."""
        problems: tuple[Problem, ...] = more.pop("problems", ())
        faults = {problem.name: problem for problem in problems}
        return render_template(template, form=self, problems=problems, faults=faults, **more)

    @property
    def first(self) -> str:
        """The field that a refusal of the whole is about."""
        return self.fields[0].name

    def problem(self, fault: Fault) -> Problem:
        """Return a fault as a problem with the field that it is about."""
        asked = next((one for one in self.fields if one.name == fault.field), None)
        if asked is None:
            return Problem(self.first, f"{spoken(str(fault))}.")
        return Problem(fault.field, asked.wanted or f"{asked.label}: {fault.wanted}.")


class Wording(Protocol):
    """What can say in words what is wrong with its fields."""

    @property
    def first(self) -> str:
        """The field that a refusal of the whole is about."""

    def problem(self, fault: Fault) -> Problem:
        """Return a fault as a problem with the field that it is about."""


@dataclass
class Attempt:
    """Something that was tried, and the problems that it met."""

    problems: tuple[Problem, ...] = field(default=())


@contextmanager
def attempt(form: Wording) -> Iterator[Attempt]:
    """Try to do what a form asks for; a refusal undoes it and becomes problems of the form."""
    tried = Attempt()
    try:
        yield tried
    except Invalid as error:
        tried.problems = tuple(form.problem(fault) for fault in error.faults)
    except REFUSALS as error:
        tried.problems = (Problem(form.first, f"{spoken(str(error))}."),)
    if tried.problems:
        undo()


def loaded(given: Mapping[str, Any], *schemas: Schema) -> dict[str, Any]:
    """Return what schemas of the API make of a form, each of the fields that it has.

    Raises
    ------
    Invalid
        Where a field cannot be; what was given is not in the faults.

    """
    found: dict[str, Any] = {}
    faults: list[Fault] = []
    for schema in schemas:
        try:
            found |= schema.load({name: given[name] for name in schema.fields if name in given})
        except ValidationError as error:
            faults += faults_of(error.messages_dict, {})
    if faults:
        raise Invalid(faults)
    return found
