"""From a token or a session to the person behind it and the member that person is in a group."""

from __future__ import annotations

from functools import cache
from typing import Any

from sqlalchemy import Connection, bindparam, or_, select
from sqlalchemy.orm import Session

from models.actions.actor import Actor, Asker
from models.actions.tokens import possible
from models.domain import codes
from models.domain.errors import NotFound, Unauthenticated
from models.domain.roles import Role, Scope
from models.tables.accounts import Account, LoginSession
from models.tables.base import now
from models.tables.people import Member, Token

_VALID = (
    Token.digest == bindparam("digest"),
    Token.revoked_at.is_(None),
    or_(Token.expires_at.is_(None), Token.expires_at > bindparam("now")),
)

_PERSON = select(Token.person_id, Token.scopes, Token.id).where(*_VALID)

_PERSON_IN_GROUP = (
    select(Token.person_id, Token.scopes, Token.id, Member.id, Member.role, Member.name)
    .outerjoin(
        Member,
        (Member.person_id == Token.person_id)
        & (Member.group_id == bindparam("group_id"))
        & Member.left_at.is_(None),
    )
    .where(*_VALID)
)

_SESSION = select(LoginSession.person_id).where(
    LoginSession.digest == bindparam("digest"), LoginSession.expires_at > bindparam("now")
)

_MEMBER = select(Member.id, Member.role, Member.name).where(
    Member.person_id == bindparam("person_id"),
    Member.group_id == bindparam("group_id"),
    Member.left_at.is_(None),
)


def asker_of(reading: Connection, token: str) -> Asker:
    """Return who shows a token.

    Raises
    ------
    Unauthenticated
        Where the token is unknown, expired or revoked.

    """
    _require_possible(token)
    parameters = {"digest": codes.digest(token), "now": now()}
    row = reading.execute(_PERSON, parameters).first()
    if row is None:
        raise _unknown()
    return Asker(row[0], scopes_of(row[1]), row[2])


def actor_of(reading: Connection, token: str, group_id: str) -> tuple[Asker, Actor]:
    """Return who shows a token, and the actor that person is in a group.

    Raises
    ------
    Unauthenticated
        Where the token is unknown, expired or revoked.
    NotFound
        Where the group does not exist or the person is no member: the two look alike.

    """
    _require_possible(token)
    parameters = {"digest": codes.digest(token), "now": now(), "group_id": group_id}
    row = reading.execute(_PERSON_IN_GROUP, parameters).first()
    if row is None:
        raise _unknown()
    asker = Asker(row[0], scopes_of(row[1]), row[2])
    return asker, _actor(group_id, row[3:], asker)


def asker_of_session(reading: Connection, session_id: str) -> Asker:
    """Return who is logged in under a session id.

    Raises
    ------
    Unauthenticated
        Where there is no such session, or it has ended.

    """
    if codes.well_formed(codes.SESSION, session_id):
        digest = codes.digest(session_id)
        person_id = reading.execute(_SESSION, {"digest": digest, "now": now()}).scalar()
        if person_id is not None:
            return Asker(person_id, session_digest=digest)
    raise _logged_out()


def require_still_good(session: Session, asker: Asker) -> None:
    """Refuse a token or a session that ended since it was looked up; it ends no more meanwhile.

    Whoever writes has waited for others to write, among them perhaps for a new password.

    Raises
    ------
    Unauthenticated
        Where it has ended.

    """
    account = select(Account.id).where(Account.person_id == asker.person_id)
    session.execute(account.with_for_update())  # which a new password would change first
    if asker.token_id is not None:
        good = select(Token.id).where(Token.id == asker.token_id, Token.revoked_at.is_(None))
        if session.scalar(good) is None:
            raise _unknown()
    elif asker.session_digest is not None:
        open_one = select(LoginSession.id).where(LoginSession.digest == asker.session_digest)
        if session.scalar(open_one) is None:
            raise _logged_out()


def actor_as(reading: Connection, asker: Asker, group_id: str) -> Actor:
    """Return the actor that a person is in a group.

    Raises
    ------
    NotFound
        Where the group does not exist or the person is no member: the two look alike.

    """
    parameters = {"person_id": asker.person_id, "group_id": group_id}
    row = reading.execute(_MEMBER, parameters).first()
    return _actor(group_id, row or (None, "", ""), asker)


@cache
def scopes_of(stored: str) -> frozenset[Scope]:
    """Return the scopes that a token's row names."""
    return frozenset(map(Scope, stored.split()))


def _actor(group_id: str, member: Any, asker: Asker) -> Actor:
    member_id, role, name = member
    if member_id is None:
        raise NotFound("no such group")
    return Actor(group_id, Role(role), member_id, name, asker.scopes)


def _require_possible(token: str) -> None:
    """Refuse what no token can be without asking the database, in the same words."""
    if not possible(token):
        raise _unknown()


def _unknown() -> Unauthenticated:
    return Unauthenticated("this token is not known, expired or revoked")


def _logged_out() -> Unauthenticated:
    return Unauthenticated("you are not logged in any more: log in again")
