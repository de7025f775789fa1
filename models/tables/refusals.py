"""Why a database refused: told from its codes, for words depend on versions and languages.

References
----------
SQLite, Result and Error Codes. PostgreSQL, appendix A, Error Codes; its classes are those of SQL.

"""

from __future__ import annotations

import sqlite3

from sqlalchemy.exc import DBAPIError, IntegrityError

_WRITING = frozenset({sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED})
_PRIMARY = 0xFF
"""SQLite's extended codes have the primary one in their last byte."""

_NO_ROOM = "53100"
_LOCK_NOT_AVAILABLE = "55P03"
_PASSING = ("40", "53", "57P", _LOCK_NOT_AVAILABLE, "08")
"""Beginnings of PostgreSQL's codes for: rolled back because of others, short of something, being
stopped, waited too long for a lock, not connected."""


def is_full(error: DBAPIError) -> bool:
    """Return whether there was no room left to write."""
    told = error.orig
    if isinstance(told, sqlite3.Error):
        return _primary(told) == sqlite3.SQLITE_FULL
    return sqlstate(error) == _NO_ROOM


def is_busy(error: DBAPIError) -> bool:
    """Return whether others were writing for longer than is waited for."""
    told = error.orig
    if isinstance(told, sqlite3.Error):
        return _primary(told) in _WRITING
    return sqlstate(error) == _LOCK_NOT_AVAILABLE


def may_pass(error: DBAPIError) -> bool:
    """Return whether the same may go well at another time.

    Others were in the way, or gone in the meantime, there was no room, or no database for a while.
    """
    if isinstance(error, IntegrityError) or error.connection_invalidated:
        return True
    if isinstance(error.orig, sqlite3.Error):
        return is_busy(error) or is_full(error)
    state = sqlstate(error)
    return state is None or state.startswith(_PASSING)


def sqlstate(error: DBAPIError) -> str | None:
    """Return PostgreSQL's code, None where it was not reached."""
    found: str | None = getattr(error.orig, "sqlstate", None)
    return found


def _primary(error: sqlite3.Error) -> int:
    return getattr(error, "sqlite_errorcode", 0) & _PRIMARY
