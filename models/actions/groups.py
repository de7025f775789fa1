"""Groups: founding, finding and reading them."""

from __future__ import annotations

from sqlalchemy import Connection, select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.domain.consent import require_agreed
from models.domain.errors import NotFound
from models.domain.roles import Action, Role
from models.domain.texts import required_name
from models.tables.people import Group, Member, Person


def create_group(
    session: Session,
    name: str,
    steward: str,
    person_id: str | None = None,
    *,
    consent_version: int | None = None,
) -> tuple[Group, str]:
    """Return a new group, and the person who is its steward: a new one unless named.

    Names need not be unique: a group must not be found by trying names. `consent_version` is None
    where the operator founds for a steward who has not been asked.

    Raises
    ------
    Invalid
        Where a name cannot be stored, or the consent is to another text.

    """
    if consent_version is not None:
        require_agreed(consent_version)
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
            consent_version=consent_version,
        )
    )
    session.flush()
    return group, person_id


def groups_of(session: Session, person_id: str) -> list[tuple[Group, str]]:
    """Return every group a person is a member of, with the role there, by name."""
    rows = session.execute(
        select(Group, Member.role)
        .join(Member, Member.group_id == Group.id)
        .where(Member.person_id == person_id, Member.left_at.is_(None))
        .order_by(Group.name)
    )
    return [(group, role) for group, role in rows]


def read_group(session: Session, actor: Actor) -> Group:
    """Return the actor's group."""
    actor.require(Action.READ_GROUP)
    return session.get_one(Group, actor.group_id)


def name_of(reading: Connection, group_id: str) -> str:
    """Return the name of a group, for who is known to be in it."""
    return str(reading.execute(select(Group.name).where(Group.id == group_id)).scalar_one())


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
