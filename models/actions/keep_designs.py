"""Making, listing, renaming and deleting designs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.paging import Page, page
from models.domain.errors import Conflict, Fault, Invalid, NotFound
from models.domain.reports import LONGEST
from models.domain.roles import Action
from models.domain.texts import required_name
from models.tables.adopted import Adoption
from models.tables.claim import insert_new
from models.tables.socks import Design, Report, Size

DESIGN_COLUMNS = (Design.id, Design.version, Design.name, Design.created_at)


def create_design(session: Session, actor: Actor, name: str) -> str:
    """Return the id of a new design.

    Raises
    ------
    Invalid
        Where the name cannot be stored or another design of the group has it.

    """
    actor.require(Action.KEEP_DESIGNS)
    wanted = required_name("name", name, LONGEST["design"])
    made = insert_new(session, Design, [{"group_id": actor.group_id, "name": wanted}])
    if not made:
        raise _taken(wanted)
    return made[0]


def rename_design(session: Session, actor: Actor, design: Design, name: str) -> None:
    """Give a design another name; reports keep naming it.

    Raises
    ------
    Invalid
        Where the name cannot be stored or another design of the group has it.

    """
    actor.require(Action.KEEP_DESIGNS)
    wanted = required_name("name", name, LONGEST["design"])
    others = select(Design.id).where(
        Design.group_id == actor.group_id, Design.name == wanted, Design.id != design.id
    )
    if session.scalar(others) is not None:
        raise _taken(wanted)
    design.name = wanted
    session.flush()


def delete_design(session: Session, actor: Actor, design: Design) -> None:
    """Delete a design with its sizes and their history.

    Raises
    ------
    Conflict
        Where reports name it: they would lose what they are about.

    """
    actor.require(Action.KEEP_DESIGNS)
    require_unnamed(session, actor, Report.design_id == design.id, "design")
    for kind in (Adoption, Size):
        session.execute(
            delete(kind).where(kind.group_id == actor.group_id, kind.design_id == design.id)
        )
    session.delete(design)
    session.flush()


def own_design(session: Session, actor: Actor, design_id: str) -> Design:
    """Return a design of the actor's group.

    Raises
    ------
    NotFound
        Where the group has no such design.

    """
    actor.require(Action.READ_GROUP)
    query = select(Design).where(Design.group_id == actor.group_id, Design.id == design_id)
    found = session.scalar(query)
    if found is None:
        raise NotFound("no such design")
    return found


def find_design(session: Session, actor: Actor, name_or_id: str) -> Design:
    """Return a design by name or id, for the command line.

    Raises
    ------
    NotFound
        Where there is none.

    """
    own = select(Design).where(Design.group_id == actor.group_id)
    for key in (Design.name, Design.id):
        found = session.scalar(own.where(key == name_or_id))
        if found is not None:
            return found
    names = session.scalars(own.with_only_columns(Design.name).order_by(Design.name).limit(20))
    raise NotFound(f"no design {name_or_id!r}; designs here: {', '.join(names) or 'none yet'}")


def list_designs(session: Session, actor: Actor, *, after: str | None, limit: int) -> Page:
    """Return a page of the group's designs, oldest first."""
    actor.require(Action.READ_GROUP)
    query = select(*DESIGN_COLUMNS).where(Design.group_id == actor.group_id)
    return page(session, query, Design.id, after=after, limit=limit)


def described_design(design: Design) -> Mapping[str, Any]:
    """Return a design as people read it."""
    return {column.key: getattr(design, column.key) for column in DESIGN_COLUMNS}


def require_unnamed(session: Session, actor: Actor, condition: Any, kind: str) -> None:
    """Raise `Conflict` where reports of the group fulfil a condition on what they name."""
    query = select(func.count()).select_from(Report)
    if session.scalar(query.where(Report.group_id == actor.group_id, condition)):
        raise Conflict(f"reports name this {kind}, so it stays")


def _taken(name: str) -> Invalid:
    return Invalid([Fault("name", name, "a design of this group has this name already")])
