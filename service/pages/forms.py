"""Forms of a few fields: what they ask for, what was sent, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from flask import render_template, request
from marshmallow import Schema, ValidationError

from models.domain.errors import (
    Closed,
    Conflict,
    Fault,
    Forbidden,
    HeeldepthError,
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


@dataclass
class Attempt:
    """Something that was tried, and the problems that it met."""

    form: Form
    problems: tuple[Problem, ...] = field(default=())


@contextmanager
def attempt(form: Form, about: str = "") -> Iterator[Attempt]:
    """Try to do what a form asks for; a refusal undoes it and becomes problems of the form.

    `about` is the field that refusals of the whole are about: the first unless named.
    """
    tried = Attempt(form)
    try:
        yield tried
    except Invalid as error:
        tried.problems = tuple(_problem(form, fault) for fault in error.faults)
    except REFUSALS as error:
        tried.problems = (Problem(about or form.fields[0].name, _sentence(error)),)
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


def _problem(form: Form, fault: Fault) -> Problem:
    asked = next((one for one in form.fields if one.name == fault.field), None)
    if asked is None:
        return Problem(form.fields[0].name, f"{spoken(str(fault))}.")
    return Problem(fault.field, asked.wanted or f"{asked.label}: {fault.wanted}.")


def _sentence(error: HeeldepthError) -> str:
    return f"{spoken(str(error))}."
