"""Groups and their members."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import insert, or_, select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.domain.errors import Fault, Forbidden, Invalid, NotFound
from models.domain.roles import Action, Role
from models.tables.base import new_id
from models.tables.people import Group, Member, Person


def create_group(
    session: Session, name: str, steward: str, person_id: str | None = None
) -> tuple[Group, str]:
    """Return a new group, and the person who is its steward: a new one unless named.

    Raises
    ------
    Invalid
        Where a group of that name exists.

    """
    if session.scalar(select(Group.id).where(Group.name == name)):
        raise Invalid([Fault("name", name, "a group of that name exists; choose another")])
    group = Group(name=name)
    session.add(group)
    if person_id is None:
        person = Person()
        session.add(person)
        session.flush()
        person_id = person.id
    session.flush()
    session.add(
        Member(group_id=group.id, person_id=person_id, name=steward, role=Role.STEWARD.value)
    )
    session.flush()
    return group, person_id


def groups_of(session: Session, person_id: str) -> list[tuple[Group, str]]:
    """Return every group a person is a member of, with the role there, by name."""
    rows = session.execute(
        select(Group, Member.role)
        .join(Member, Member.group_id == Group.id)
        .where(Member.person_id == person_id)
        .order_by(Group.name)
    )
    return [(group, role) for group, role in rows]


def read_group(session: Session, actor: Actor) -> Group:
    """Return the actor's group."""
    actor.require(Action.READ_GROUP)
    return session.get_one(Group, actor.group_id)


def find_group(session: Session, name_or_id: str) -> Group:
    """Return a group by name or id, for the command line.

    Raises
    ------
    NotFound
        Where there is none.

    """
    found = session.scalar(
        select(Group).where(or_(Group.name == name_or_id, Group.id == name_or_id))
    )
    if found is None:
        names = session.scalars(select(Group.name).order_by(Group.name).limit(20)).all()
        known = ", ".join(names) or "none yet; make one with: heeldepth group create NAME"
        raise NotFound(f"no group {name_or_id!r}; groups here: {known}")
    return found


def reporter(session: Session, actor: Actor, name: str | None) -> str:
    """Return the member id of the reporter a record is for: the actor, or one the actor names.

    A name nobody has yet becomes a member without a person, who reports through the steward.

    Raises
    ------
    Forbidden
        Where the actor may not record for others.

    """
    actor.require(Action.RECORD)
    if actor.member_id is not None and name in (None, actor.name):
        return actor.member_id
    if name is None:
        raise Forbidden("the operator is no reporter: name one")
    return reporters(session, actor, [name])[name]


def reporters(session: Session, actor: Actor, names: Sequence[str]) -> dict[str, str]:
    """Return the member id of each name; those nobody has yet become members without a person.

    Raises
    ------
    Forbidden
        Where the actor may not record for others.

    """
    actor.require(Action.RECORD_FOR_OTHERS)
    known = select(Member.name, Member.id).where(
        Member.group_id == actor.group_id, Member.name.in_(names)
    )
    found = {row.name: row.id for row in session.execute(known)}
    new = {name: new_id() for name in names if name not in found}
    if new:
        rows = [
            {"id": new[name], "group_id": actor.group_id, "name": name, "role": Role.KNITTER.value}
            for name in new
        ]
        session.execute(insert(Member), rows)
    return found | new
