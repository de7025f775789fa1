"""From a bearer token to the person it belongs to and the member that person is in a group."""

from __future__ import annotations

from sqlalchemy import bindparam, or_, select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.tokens import digest
from models.domain.errors import NotFound, Unauthenticated
from models.domain.roles import Role
from models.tables.base import now
from models.tables.people import Member, Token

_VALID = (
    Token.digest == bindparam("digest"),
    Token.revoked_at.is_(None),
    or_(Token.expires_at.is_(None), Token.expires_at > bindparam("now")),
)

_PERSON = select(Token.person_id).where(*_VALID)

_MEMBER = (
    select(Token.person_id, Member.id, Member.role, Member.name)
    .outerjoin(
        Member,
        (Member.person_id == Token.person_id) & (Member.group_id == bindparam("group_id")),
    )
    .where(*_VALID)
)


def person_of(session: Session, token: str) -> str:
    """Return the id of the person a token belongs to.

    Raises
    ------
    Unauthenticated
        Where the token is unknown, expired or revoked.

    """
    person: str | None = (
        session.connection().execute(_PERSON, {"digest": digest(token), "now": now()}).scalar()
    )
    if person is None:
        raise Unauthenticated("this token is not known, expired or revoked")
    return person


def actor_of(session: Session, token: str, group_id: str) -> tuple[str, Actor]:
    """Return the person a token belongs to, and the actor that person is in a group.

    Raises
    ------
    Unauthenticated
        Where the token is unknown, expired or revoked.
    NotFound
        Where the group does not exist or the person is no member: the two look alike.

    """
    parameters = {"digest": digest(token), "now": now(), "group_id": group_id}
    row = session.connection().execute(_MEMBER, parameters).first()
    if row is None:
        raise Unauthenticated("this token is not known, expired or revoked")
    person_id, member_id, role, name = row
    if member_id is None:
        raise NotFound("no such group")
    return person_id, Actor(group_id, Role(role), member_id, name)
