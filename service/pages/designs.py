"""Designs: the list, what every size has and should have, adopting it and taking it back."""

from __future__ import annotations

import re
from dataclasses import asdict
from typing import Any

from flask import redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from models.actions import adoptions, effects, keep_designs
from models.actions.design_defaults import Wishes
from models.actions.sizes import sizes_of, unknown
from models.domain.roles import Action
from models.tables.socks import Design
from service.access import actor
from service.design_schemas import NewDesign
from service.pages.forms import Field, Form, attempt, loaded
from service.pages.frame import Pages
from service.pages.listing import newest_first
from service.pages.visitors import only_members
from service.results import result
from service.work import session

DESIGNS = "/groups/<hexid:group_id>/designs"

blueprint = Pages("design_pages", url_prefix=DESIGNS)

MAKING = Form("A new design", "Make the design", (Field("name", "Name of the design"),))
ADOPTING = Form("Adopt", "Adopt the calibrated rounds", (Field("sizes", "Sizes"),))

MOST_DESIGNS = 200
MOST_ADOPTIONS = 4
"""Adoptions in a design's history, the newest."""

SIZES_AT_ONCE = 8
"""Sizes that a page tells of one by one."""


@blueprint.get("")
@only_members(Action.READ_GROUP)
def page() -> str:
    """List the designs."""
    return _listed()


@blueprint.post("")
@only_members(Action.KEEP_DESIGNS)
def make() -> ResponseReturnValue:
    """Make a design."""
    with attempt(MAKING) as tried:
        given = loaded(MAKING.given(), NewDesign())
        return to_design(keep_designs.create_design(session(), actor(), given["name"]))
    return _listed(problems=tried.problems), 422


@blueprint.get("/<hexid:design_id>")
@only_members(Action.READ_GROUP)
def one(design_id: str) -> str:
    """Show what every size of a design has and what it should have."""
    return shown(own(design_id))


@blueprint.post("/<hexid:design_id>/adoptions")
@only_members(Action.KEEP_DESIGNS)
def adopt(design_id: str) -> ResponseReturnValue:
    """Take over the calibrated rounds of the sizes that are ticked."""
    design = own(design_id)
    with attempt(ADOPTING) as tried:
        adoptions.adopt(session(), actor(), design, Wishes(), request.form.getlist("sizes"))
        return to_design(design.id, "adopted")
    return shown(design, problems=tried.problems), 409


@blueprint.post("/<hexid:design_id>/adoptions/<hexid:adoption_id>/reversal")
@only_members(Action.KEEP_DESIGNS)
def undo(design_id: str, adoption_id: str) -> ResponseReturnValue:
    """Give the sizes of the latest adoption back what they had before."""
    design = own(design_id)
    with attempt(ADOPTING) as tried:
        adoptions.undo(session(), actor(), design, adoption_id)
        return to_design(design.id, "undone")
    return shown(design, problems=tried.problems), 409


def own(design_id: str) -> Design:
    """Return a design of the actor's group."""
    return keep_designs.own_design(session(), actor(), design_id)


def to_design(design_id: str, done: str | None = None) -> ResponseReturnValue:
    """Lead to a design's page, which says what was done."""
    group_id = actor().group_id
    return redirect(url_for("design_pages.one", group_id=group_id, design_id=design_id, done=done))


def shown(design: Design, **more: Any) -> str:
    """Return a design's page; `more` goes to its template."""
    sizes = sizes_of(session(), design)
    found = None
    if not all(map(unknown, sizes)):
        found = result(actor(), "defaults", design_id=design.id, **asdict(Wishes()))
    told = found["sizes"] if found else []
    past = newest_first(
        lambda after, limit: adoptions.list_adoptions(
            session(), actor(), design, after=after, limit=limit
        )
    )
    return render_template(
        "pages/design.html",
        design=design,
        sizes=sizes,
        found=found,
        differing=differing(told),
        start=(start := _start(len(told))),
        told=told[start : start + SIZES_AT_ONCE],
        at_once=SIZES_AT_ONCE,
        effects={one["size_id"]: one for one in effects.read_effects(session(), actor(), design)},
        adoptions=past[:MOST_ADOPTIONS],
        older=len(past) - MOST_ADOPTIONS,
        latest=next((one.id for one in past if one.undone_at is None), None),
        may=actor().may(Action.KEEP_DESIGNS),
        **more,
    )


def _start(sizes: int) -> int:
    """Return the first size to tell of one by one, counted from 0, as the address asks for it."""
    asked = request.args.get("from", "")
    first = int(asked) if re.fullmatch("[0-9]{1,3}", asked) else 0
    return min(first, max(sizes - 1, 0)) // SIZES_AT_ONCE * SIZES_AT_ONCE


def differing(sizes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the sizes of a design's defaults that adopting would change."""
    return [
        size
        for size in sizes
        if any(size["today"][name] != size["calibrated"][name] for name in adoptions.FIGURES)
    ]


def _listed(**more: Any) -> str:
    found = keep_designs.list_designs(session(), actor(), after=None, limit=MOST_DESIGNS)
    may = actor().may(Action.KEEP_DESIGNS)
    return MAKING.shown("pages/designs.html", designs=found.rows, may=may, **more)
