"""Adopting calibrated defaults, undoing it step by step, and the history of both."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import asdict
from typing import Any

import orjson
from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.design_defaults import Wishes
from models.actions.kept_results import kept_or_worked_out
from models.actions.paging import Page, page
from models.actions.sizes import sizes_of
from models.actions.turns import take_turns
from models.domain.errors import Conflict, Fault, Invalid, NotFound
from models.domain.roles import Action
from models.domain.sizes import WORKED
from models.tables.adopted import Adoption
from models.tables.base import now
from models.tables.people import Member
from models.tables.socks import Design, Size

FIGURES = tuple(quantity.name for quantity in WORKED)

Change = dict[str, Any]


def adopt(
    session: Session,
    actor: Actor,
    design: Design,
    wishes: Wishes,
    size_ids: Collection[str] | None = None,
) -> Adoption:
    """Give all sizes of a design, or some of them, their calibrated defaults.

    Raises
    ------
    Invalid
        Where a size that is named is none of the design's, or too little is known of it.
    Conflict
        Where the sizes have these figures already.

    """
    actor.require(Action.KEEP_DESIGNS)
    take_turns(session, actor.group_id)
    asked = {"design_id": design.id, **asdict(wishes)}
    found = orjson.loads(kept_or_worked_out(session, actor, "defaults", asked))
    best = {size["size_id"]: size["calibrated"] for size in found["sizes"]}
    rows = [row for row in sizes_of(session, design) if row.id in best]
    _require_known(size_ids, rows)
    changes = []
    for row in rows:
        if size_ids is None or row.id in size_ids:
            changes += _changed(row, {name: best[row.id][name] for name in FIGURES})
    if not changes:
        raise Conflict("nothing to adopt: these sizes have their calibrated defaults already")
    adoption = Adoption(
        group_id=actor.group_id,
        design_id=design.id,
        member_id=actor.member_id,
        calibration_id=found["calibration_id"],
        changes=changes,
    )
    session.add(adoption)
    session.flush()
    return adoption


def undo(
    session: Session, actor: Actor, design: Design, adoption_id: str | None = None
) -> Adoption:
    """Take the latest adoption of a design back; `adoption_id` says which one is meant by that.

    Raises
    ------
    NotFound
        Where the design has no such adoption.
    Conflict
        Where there is none left, a later one stands, or a size was changed since by hand.

    """
    actor.require(Action.KEEP_DESIGNS)
    take_turns(session, actor.group_id)
    if adoption_id is not None:
        _require_own(session, design, adoption_id)
    latest = session.scalars(_standing(design).order_by(Adoption.id.desc()).limit(1)).first()
    if latest is None:
        raise Conflict("no adoption is left to undo")
    if adoption_id not in (None, latest.id):
        raise Conflict("only the latest adoption that stands can be undone")
    _restore(session, latest)
    latest.undone_at, latest.undone_by_id = now(), actor.member_id
    session.flush()
    return latest


def list_adoptions(
    session: Session, actor: Actor, design: Design, *, after: str | None, limit: int
) -> Page:
    """Return a page of a design's adoptions, oldest first."""
    actor.require(Action.READ_GROUP)
    query = (
        select(
            Adoption.id,
            Member.name.label("adopted_by"),
            Adoption.calibration_id,
            Adoption.changes,
            Adoption.created_at,
            Adoption.undone_at,
        )
        .outerjoin(Member, Member.id == Adoption.member_id)
        .where(Adoption.group_id == design.group_id, Adoption.design_id == design.id)
    )
    return page(session, query, Adoption.id, after=after, limit=limit)


def read_adoption(session: Session, adoption: Adoption) -> dict[str, Any]:
    """Return one adoption as people read it."""
    who = None if adoption.member_id is None else session.get_one(Member, adoption.member_id).name
    shown = ("id", "calibration_id", "changes", "created_at", "undone_at")
    return {"adopted_by": who, **{name: getattr(adoption, name) for name in shown}}


def standing_adoptions(session: Session, design: Design) -> Sequence[Adoption]:
    """Return the adoptions of a design that were not undone, oldest first."""
    return session.scalars(_standing(design).order_by(Adoption.id)).all()


def standing_by_size(session: Session, design: Design) -> dict[str, list[Adoption]]:
    """Return the adoptions that were not undone, oldest first, by the sizes they changed."""
    found: dict[str, list[Adoption]] = {}
    for adoption in standing_adoptions(session, design):
        for change in adoption.changes:
            found.setdefault(change["size_id"], []).append(adoption)
    return found


def _standing(design: Design) -> Select[Adoption]:
    return select(Adoption).where(
        Adoption.group_id == design.group_id,
        Adoption.design_id == design.id,
        Adoption.undone_at.is_(None),
    )


def _require_known(size_ids: Collection[str] | None, rows: Sequence[Size]) -> None:
    known = {row.id for row in rows}
    unknown = [size_id for size_id in size_ids or () if size_id not in known]
    if unknown:
        wanted = "it must be a size of this design of which everything is known"
        raise Invalid(Fault("sizes", size_id, wanted) for size_id in unknown)


def _require_own(session: Session, design: Design, adoption_id: str) -> None:
    query = select(Adoption.id).where(
        Adoption.group_id == design.group_id,
        Adoption.design_id == design.id,
        Adoption.id == adoption_id,
    )
    if session.scalar(query) is None:
        raise NotFound("no such adoption")


def _changed(row: Size, after: dict[str, int]) -> list[Change]:
    """Write figures into a size, and return what that changed: one entry, or none."""
    before = {name: getattr(row, name) for name in FIGURES}
    if before == after:
        return []
    for name, value in after.items():
        setattr(row, name, value)
    return [{"size_id": row.id, "label": row.label, "before": before, "after": after}]


def _restore(session: Session, adoption: Adoption) -> None:
    rows = {change["size_id"]: session.get(Size, change["size_id"]) for change in adoption.changes}
    for change in adoption.changes:
        row = rows[change["size_id"]]
        if row is None or any(getattr(row, n) != v for n, v in change["after"].items()):
            raise Conflict(f"size {change['label']} was changed since; undo that by hand first")
    for change in adoption.changes:
        _changed(rows[change["size_id"]], change["before"])  # type: ignore[arg-type]
