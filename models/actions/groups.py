"""Groups and their members."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.domain.errors import Forbidden, NotFound
from models.domain.roles import Action, Role
from models.domain.texts import required_name
from models.tables.claim import insert_new
from models.tables.people import Group, Member, Person


def create_group(
    session: Session, name: str, steward: str, person_id: str | None = None
) -> tuple[Group, str]:
    """Return a new group, and the person who is its steward: a new one unless named.

    Names need not be unique: a group must not be found by trying names.

    Raises
    ------
    Invalid
        Where a name cannot be stored.

    """
    group = Group(name=required_name("name", name))
    session.add(group)
    if person_id is None:
        person = Person()
        session.add(person)
        session.flush()
        person_id = person.id
    session.flush()
    session.add(
        Member(
            group_id=group.id,
            person_id=person_id,
            name=required_name("steward", steward),
            role=Role.STEWARD.value,
        )
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
    """Return a group by id, or by name, for the command line.

    Raises
    ------
    NotFound
        Where there is none, or several of that name.

    """
    found = session.get(Group, name_or_id)
    if found is not None:
        return found
    named = session.scalars(select(Group).where(Group.name == name_or_id).limit(20)).all()
    if len(named) == 1:
        return named[0]
    if named:
        ids = ", ".join(group.id for group in named)
        raise NotFound(f"several groups are named {name_or_id!r}: give the id, one of {ids}")
    names = session.scalars(select(Group.name).order_by(Group.name).limit(20)).all()
    known = ", ".join(names) or "none yet; make one with: heeldepth group create NAME"
    raise NotFound(f"no group {name_or_id!r}; groups here: {known}")


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
    found = _ids(session, actor, names)
    new = [name for name in dict.fromkeys(names) if name not in found]
    if new:
        rows = [_knitter(actor, name) for name in new]
        insert_new(session, Member, rows)
        found |= _ids(session, actor, new)
    return found


def _ids(session: Session, actor: Actor, names: Sequence[str]) -> dict[str, str]:
    known = select(Member.name, Member.id).where(
        Member.group_id == actor.group_id, Member.name.in_(names)
    )
    return {row.name: row.id for row in session.execute(known)}


def _knitter(actor: Actor, name: str) -> dict[str, str]:
    return {"group_id": actor.group_id, "name": name, "role": Role.KNITTER.value}
