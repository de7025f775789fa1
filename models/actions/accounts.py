"""Usernames and passwords, for people who use pages: setting them and logging in.

Hashing a password takes a while on purpose, so it is done before the transaction that writes.

References
----------
RFC 9106, Argon2: the memory-constrained choice of its section 4, which argon2-cffi has as default.

"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from secrets import token_bytes
from typing import Any

from argon2 import PasswordHasher
from argon2.exceptions import VerifyMismatchError
from argon2.low_level import ARGON2_VERSION
from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from models.actions.actor import Asker
from models.domain import codes
from models.domain.errors import Fault, Invalid, NotFound, Unauthenticated
from models.domain.roles import Action
from models.tables.accounts import Account, LoginSession
from models.tables.base import now
from models.tables.claim import insert_new

LIFE = timedelta(hours=12)
"""How long a session lasts."""

HASHER = PasswordHasher()


@dataclass(frozen=True)
class Known:
    """What login needs of an account; without a person where nobody has that username."""

    person_id: str | None
    password_hash: str


def hashed(password: str) -> str:
    """Return the hash under which a password is kept."""
    return HASHER.hash(password)


def set_account(
    session: Session, asker: Asker, username: str, password_hash: str
) -> Mapping[str, Any]:
    """Give the asker a username and a password, and end every session opened with older ones.

    Raises
    ------
    Invalid
        Where somebody else has the username.

    """
    asker.require(Action.KEEP_ACCOUNT)
    account = session.scalar(select(Account).where(Account.person_id == asker.person_id))
    if account is None:
        account = _new(session, asker.person_id, username, password_hash)
    elif account.username != username:
        raise Invalid([Fault("username", username, f"yours is {account.username}: it stays")])
    account.password_hash, account.changed_at = password_hash, now()
    end_sessions(session, asker.person_id)
    session.flush()
    return read_account(session, asker)


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

    """
    try:
        HASHER.verify(account.password_hash, password)
    except VerifyMismatchError:
        raise _wrong() from None
    if account.person_id is None:
        raise _wrong()
    return account.person_id


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
        raise Invalid([Fault("username", username, "somebody has it: choose another")])
    return session.get_one(Account, made[0])


def _wrong() -> Unauthenticated:
    return Unauthenticated("no such username with that password")
