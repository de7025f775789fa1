"""Designs and sizes, as far as reports name them."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.domain.errors import Fault, Invalid
from models.tables.socks import Design, Size


def named(
    session: Session, actor: Actor, design: str | None, size: str | None
) -> tuple[str | None, str | None]:
    """Return the ids of a design and a size by their names, made where they are new.

    Raises
    ------
    Invalid
        Where a size is named without its design.

    """
    if design is None:
        if size is not None:
            raise Invalid([Fault("size", size, "name the design it is a size of as well")])
        return None, None
    design_id = _design(session, actor.group_id, design)
    return design_id, None if size is None else _size(session, actor.group_id, design_id, size)


def _design(session: Session, group_id: str, name: str) -> str:
    known = session.scalar(
        select(Design.id).where(Design.group_id == group_id, Design.name == name)
    )
    if known is not None:
        return known
    design = Design(group_id=group_id, name=name)
    session.add(design)
    session.flush()
    return design.id


def _size(session: Session, group_id: str, design_id: str, label: str) -> str:
    known = session.scalar(
        select(Size.id).where(
            Size.group_id == group_id, Size.design_id == design_id, Size.label == label
        )
    )
    if known is not None:
        return known
    size = Size(group_id=group_id, design_id=design_id, label=label)
    session.add(size)
    session.flush()
    return size.id
