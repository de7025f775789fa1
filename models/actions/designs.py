"""Designs and sizes, as far as reports name them."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.domain.errors import Fault, Invalid
from models.tables.claim import insert_new
from models.tables.socks import Design, Size


def named(
    session: Session, actor: Actor, design: str | None, size: str | None
) -> tuple[str | None, str | None]:
    """Return the ids of a design and a size of it by their names, made where they are new."""
    if design is None:
        return None, None
    design_id = _design(session, actor.group_id, design)
    return design_id, None if size is None else _size(session, actor.group_id, design_id, size)


def require_design(design: str | None, size: str | None) -> None:
    """Raise `Invalid` where a size is named without its design."""
    if design is None and size is not None:
        raise Invalid([alone(size)])


def alone(size: str) -> Fault:
    """Return what is wrong with a size that is named without its design."""
    return Fault("size", size, "name the design it is a size of as well")


def _design(session: Session, group_id: str, name: str) -> str:
    return _found_or_made(session, Design, {"group_id": group_id, "name": name})


def _size(session: Session, group_id: str, design_id: str, label: str) -> str:
    wanted = {"group_id": group_id, "design_id": design_id, "label": label}
    return _found_or_made(session, Size, wanted)


def _found_or_made(session: Session, kind: type[Design | Size], wanted: dict[str, str]) -> str:
    """Return the id of a row, made where there is none yet, perhaps by somebody at this moment."""
    known = select(kind.id).filter_by(**wanted)
    found = session.scalar(known)
    if found is None:
        insert_new(session, kind, [wanted])
        found = session.scalars(known).one()
    return found
