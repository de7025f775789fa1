"""The sizes of a design: taking in a table, and a form for one of them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from flask import render_template, request
from flask.typing import ResponseReturnValue

from models.actions import size_files, sizes
from models.actions.file_outcome import FileRefused
from models.domain.errors import Fault, Invalid
from models.domain.roles import Action
from models.domain.sizes import NUMBERS, OPTIONAL_NUMBERS
from models.tables.socks import Size
from service.access import actor
from service.pages.designs import DESIGNS, own, shown, to_design
from service.pages.forms import Field, Form, attempt
from service.pages.frame import Pages
from service.pages.numbers import read_numbers
from service.pages.reading import Problem
from service.pages.visitors import only_members
from service.pages.words import label
from service.uploads import turn_to_read
from service.work import session

blueprint = Pages("size_pages", url_prefix=f"{DESIGNS}/<hexid:design_id>")

QUANTITIES = (*NUMBERS, *OPTIONAL_NUMBERS)
SIZE = Form(
    "A size",
    "Keep this size",
    (Field("label", "Name of the size"), *(Field(q.name, label(q), q.text) for q in QUANTITIES)),
)


class File(Form):
    """A form that sends a file, whose columns are told by their headings."""

    def problem(self, fault: Fault) -> Problem:
        """Return a fault as a problem with the file."""
        return Problem(self.first, f"{fault}.")


TABLE = File("A size table", "Take in this table", (Field("table", "File"),))

MOST_FAULTS = 12
"""Faults of a file that are listed; whoever mends these sees the next."""


@blueprint.post("/size-table")
@only_members(Action.KEEP_DESIGNS)
def take(design_id: str) -> ResponseReturnValue:
    """Take in a size table, all of it or nothing."""
    with attempt(TABLE) as tried:
        rows = _read(_sent())
        sizes.put_sizes(session(), actor(), own(design_id), rows)
        return to_design(design_id, "sizes")
    return shown(own(design_id), problems=tried.problems), 422


@blueprint.get("/sizes/new")
@only_members(Action.KEEP_DESIGNS)
def new(design_id: str) -> str:
    """Ask for a new size."""
    return _form(design_id, {})


@blueprint.post("/sizes/new")
@only_members(Action.KEEP_DESIGNS)
def add(design_id: str) -> ResponseReturnValue:
    """Add a size after the others."""
    with attempt(SIZE) as tried:
        sizes.add_size(session(), actor(), own(design_id), given(request.form))
        return to_design(design_id, "sizes")
    return _form(design_id, request.form, problems=tried.problems), 422


@blueprint.get("/sizes/<hexid:size_id>")
@only_members(Action.KEEP_DESIGNS)
def edit(design_id: str, size_id: str) -> str:
    """Show a size to be changed."""
    return _form(design_id, _values(_own_size(design_id, size_id)))


@blueprint.post("/sizes/<hexid:size_id>")
@only_members(Action.KEEP_DESIGNS)
def change(design_id: str, size_id: str) -> ResponseReturnValue:
    """Change a size."""
    with attempt(SIZE) as tried:
        size = _own_size(design_id, size_id)
        sizes.amend_size(session(), actor(), size, given(request.form))
        return to_design(design_id, "sizes")
    return _form(design_id, request.form, problems=tried.problems), 422


def given(form: Mapping[str, str]) -> dict[str, Any]:
    """Return a size as it was typed; raises `Invalid` where an entry is no number it can be."""
    return {"label": form.get("label", ""), **read_numbers(form, NUMBERS, OPTIONAL_NUMBERS)}


def _sent() -> bytes:
    file = request.files.get("table")
    content = file.read() if file is not None else b""
    if not content:
        raise Invalid([Fault("table", None, "choose a file: CSV or a workbook")])
    return content


def _read(content: bytes) -> list[dict[str, Any]]:
    """Return the sizes of a table; no transaction may be open, as whoever reads may wait for it."""
    with TemporaryDirectory() as folder, turn_to_read():
        path = Path(folder) / "table"
        path.write_bytes(content)
        try:
            return size_files.read_sizes(path)
        except FileRefused as refused:
            faults = refused.outcome.faults[:MOST_FAULTS]
            raise Invalid(one.fault.under(f"row {one.row}") for one in faults) from refused


def _own_size(design_id: str, size_id: str) -> Size:
    return sizes.own_size(session(), actor(), design_id, size_id)


def _values(size: Size) -> dict[str, str]:
    numbers = sizes.numbers_of(size)
    told = {name: value for name, value in numbers.items() if value is not None}
    return {k: f"{v:g}" if isinstance(v, float) else str(v) for k, v in told.items()}


def _form(design_id: str, values: Mapping[str, str], **more: Any) -> str:
    faults = {problem.name: problem for problem in more.get("problems", ())}
    return render_template(
        "pages/size.html", design=own(design_id), form=SIZE, values=values, faults=faults, **more
    )
