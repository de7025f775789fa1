"""Usernames and passwords, for people who use pages: setting them and logging in.

Hashing a password takes a while on purpose, so it is done before the transaction that writes.

References
----------
RFC 9106, Argon2: the memory-constrained choice of its section 4, which argon2-cffi has as default.

"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from secrets import token_bytes
from threading import BoundedSemaphore
from typing import Any

from argon2 import PasswordHasher
from argon2.exceptions import VerifyMismatchError
from argon2.low_level import ARGON2_VERSION
from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from models.actions.actor import Asker
from models.actions.outstanding_codes import revoke_codes_of, void_resets
from models.domain import codes
from models.domain.errors import Fault, Forbidden, Invalid, NotFound, Unauthenticated, Unavailable
from models.domain.roles import Action
from models.tables.accounts import Account, LoginSession, PasswordReset
from models.tables.base import now
from models.tables.claim import insert_new
from models.tables.people import Member, Token

LIFE = timedelta(hours=12)
"""How long a session lasts."""

HASHER = PasswordHasher()

AT_ONCE = 2
"""Passwords that are hashed or verified at the same time: each takes 64 MiB and .2 s of a core."""

_turns = BoundedSemaphore(AT_ONCE)
_places = BoundedSemaphore(2 * AT_ONCE)
"""Those at it, and as many who wait for them: others are refused at once, and hold no thread."""


@dataclass(frozen=True)
class Known:
    """What login needs of an account; without a person where nobody has that username."""

    person_id: str | None
    password_hash: str


@contextmanager
def _turn() -> Iterator[None]:
    if not _places.acquire(blocking=False):
        raise Unavailable("many people are logging in just now; try again in a few seconds")
    try:
        with _turns:
            yield
    finally:
        _places.release()


def hashed(password: str) -> str:
    """Return the hash under which a password is kept.

    Raises
    ------
    Unavailable
        Where too many passwords are hashed just now.

    """
    with _turn():
        return HASHER.hash(password)


def set_account(
    session: Session, asker: Asker, username: str, password_hash: str
) -> Mapping[str, Any]:
    """Give the asker a username and a password, or another password.

    The caller has asked for the current password where there is one (`require_current_password`).

    Raises
    ------
    Invalid
        Where the asker has another username, or somebody else has this.

    """
    asker.require(Action.KEEP_ACCOUNT)
    require_settable(session, asker, username)
    mine = session.scalar(select(Account.id).where(Account.person_id == asker.person_id))
    if mine is None:
        _new(session, asker.person_id, username, password_hash)
    else:
        replace_password(session, asker.person_id, password_hash)
    session.flush()
    return read_account(session, asker)


def require_settable(session: Session, asker: Asker, username: str) -> None:
    """Refuse a username that the asker cannot have, before a password is hashed for it.

    Raises
    ------
    Invalid
        Where the asker has another one, or somebody else has this.

    """
    mine = session.scalar(select(Account.username).where(Account.person_id == asker.person_id))
    if mine is None:
        require_free(session, username)
    elif mine != username:
        raise Invalid([Fault("username", username, f"yours is {mine}: it stays")])


def require_free(session: Session, username: str) -> None:
    """Refuse a username that somebody has, before a password is hashed for it.

    Raises
    ------
    Invalid
        Where somebody has it.

    """
    if session.scalar(select(Account.id).where(Account.username == username)) is not None:
        raise _taken(username)


def replace_password(
    session: Session, person_id: str, password_hash: str, *, reset: bool = False
) -> None:
    """Give a person another password; all that was opened with the old one ends.

    Sessions end, tokens are revoked, and so is what the person handed out as a steward: whoever got
    in could have kept a code. So are codes that would set the password anew. The next login says
    that it happened. `reset` says that a one-time code did it.
    """
    moment = now()
    told = {"changed_at": moment, "notice_at": moment, **({"reset_at": moment} if reset else {})}
    mine = Account.person_id == person_id
    session.execute(update(Account).where(mine).values(password_hash=password_hash, **told))
    end_sessions(session, person_id)
    tokens = (Token.person_id == person_id, Token.revoked_at.is_(None))
    session.execute(update(Token).where(*tokens).values(revoked_at=moment))
    places = select(Member).where(Member.person_id == person_id)
    revoke_codes_of(session, session.scalars(places).all())
    void_resets(session, PasswordReset.person_id == person_id)


def taken_notice(session: Session, person_id: str) -> datetime | None:
    """Return when the password was replaced, if this is the first login since."""
    mine = select(Account).where(Account.person_id == person_id)
    account = session.scalars(mine).one()
    notice_at, account.notice_at = account.notice_at, None
    return notice_at


def read_account(session: Session, asker: Asker) -> Mapping[str, Any]:
    """Return the asker's account.

    Raises
    ------
    NotFound
        Where the asker has none.

    """
    asker.require(Action.KEEP_ACCOUNT)
    columns = (Account.username, Account.created_at, Account.changed_at, Account.reset_at)
    query = select(*columns).where(Account.person_id == asker.person_id)
    row = session.execute(query).mappings().first()
    if row is None:
        raise NotFound("you have no username; set one by POST /v1/accounts")
    return dict(row)


def known(session: Session, username: str) -> Known:
    """Return what login needs; for a username that nobody has, as much as for another."""
    query = select(Account.person_id, Account.password_hash).where(Account.username == username)
    row = session.execute(query).first()
    return Known(None, nobodys_hash()) if row is None else Known(*row)


def require_password(account: Known, password: str) -> str:
    """Return the person whose password it is.

    A hash is computed whether or not somebody has the username, so that neither words nor time
    tell which usernames there are.

    Raises
    ------
    Unauthenticated
        Where the username or the password is wrong.
    Unavailable
        Where too many passwords are verified just now.

    """
    try:
        with _turn():
            HASHER.verify(account.password_hash, password)
    except VerifyMismatchError:
        raise _wrong() from None
    if account.person_id is None:
        raise _wrong()
    return account.person_id


def require_unchanged(session: Session, account: Known) -> None:
    """Refuse a password that was replaced while it was verified; it is replaced no more meanwhile.

    Raises
    ------
    Unauthenticated
        Where it was replaced.

    """
    mine = select(Account.password_hash).where(Account.person_id == account.person_id)
    if session.scalar(mine.with_for_update()) != account.password_hash:
        raise _wrong()


def require_current_password(reading: Session, asker: Asker, given: str | None) -> None:
    """Refuse what a found token or an open browser must not do: without the password of its person.

    People without a password have tokens of every scope, which their action asks for already.

    Raises
    ------
    Forbidden
        Where the person has a password and this is not it.

    """
    mine = select(Account.person_id, Account.password_hash)
    row = reading.execute(mine.where(Account.person_id == asker.person_id)).first()
    if row is None:
        return
    if given is None:
        raise Forbidden("send your password too, as current_password")
    try:
        require_password(Known(*row), given)
    except Unauthenticated:
        raise Forbidden("current_password is not your password") from None


def open_session(session: Session, person_id: str) -> str:
    """Return the id of a new session; sessions of that person that have ended are forgotten."""
    ended = (LoginSession.person_id == person_id, LoginSession.expires_at <= now())
    session.execute(delete(LoginSession).where(*ended))
    session_id = codes.new_code(codes.SESSION)
    row = LoginSession(
        person_id=person_id, digest=codes.digest(session_id), expires_at=now() + LIFE
    )
    session.add(row)
    session.flush()
    return session_id


def close_session(session: Session, session_id: str) -> None:
    """End a session; one that has ended already stays ended."""
    mine = LoginSession.digest == codes.digest(session_id)
    session.execute(delete(LoginSession).where(mine))


def end_sessions(session: Session, person_id: str) -> None:
    """End every session of a person."""
    session.execute(delete(LoginSession).where(LoginSession.person_id == person_id))


def nobodys_hash() -> str:
    """Return the hash of a password that nobody knows, of the same cost as any other to verify.

    It is drawn, not computed: computing one takes as long as verifying it, which would show in the
    first login or in how long a server takes to start.
    """
    lengths = HASHER.salt_len, HASHER.hash_len
    salt, digest = (b64encode(token_bytes(n)).decode().rstrip("=") for n in lengths)
    costs = f"m={HASHER.memory_cost},t={HASHER.time_cost},p={HASHER.parallelism}"
    return f"$argon2id$v={ARGON2_VERSION}${costs}${salt}${digest}"


def _new(session: Session, person_id: str, username: str, password_hash: str) -> Account:
    row = {"person_id": person_id, "username": username, "password_hash": password_hash}
    made = insert_new(session, Account, [row])
    if not made:
        raise _taken(username)
    return session.get_one(Account, made[0])


def _taken(username: str) -> Invalid:
    return Invalid([Fault("username", username, "somebody has it: choose another")])


def _wrong() -> Unauthenticated:
    return Unauthenticated("no such username with that password")
