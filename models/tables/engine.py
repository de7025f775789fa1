"""The engine: one place that knows how each database must be opened."""

from __future__ import annotations

import sqlite3
import time
from functools import partial
from typing import Any

import orjson
from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session, sessionmaker

from models.tables.turns import Turns

BUSY_TIMEOUT_MS = 5000
CACHE_KIB = 16_384
"""Pages SQLite keeps in memory, for each connection. With its default of 2 MiB a large import takes
twice as long, with four times as much it takes as long and every connection keeps the memory."""

NO_ROOM = "53100"
"""PostgreSQL's code of an error for a disk that is full."""


def open_engine(url: str, connections: int = 5) -> Engine:
    """Return an engine for a SQLAlchemy URL; SQLite is opened so that no update can be lost.

    `connections` are kept open, one for each thing that is done at once.
    """
    sqlite = make_url(url).get_backend_name() == "sqlite"
    in_memory = sqlite and not make_url(url).database
    options: dict[str, Any] = {} if in_memory else {"pool_size": connections, "max_overflow": 5}
    if not sqlite:
        options["pool_pre_ping"] = True
    engine = create_engine(
        url,
        json_serializer=_to_json,
        json_deserializer=orjson.loads,
        hide_parameters=True,  # errors and logs name no values: they may be somebody's notes
        **options,
    )
    if sqlite:
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", partial(_begin_sqlite, Turns(engine, BUSY_TIMEOUT_MS / 1000)))
    return engine


def is_full(error: OperationalError) -> bool:
    """Return whether a database could not write because there is no room left."""
    told = error.orig
    if isinstance(told, sqlite3.Error):
        return getattr(told, "sqlite_errorcode", None) == sqlite3.SQLITE_FULL
    return getattr(told, "sqlstate", None) == NO_ROOM


def _to_json(value: object) -> str:
    return orjson.dumps(value, option=orjson.OPT_SORT_KEYS).decode()


def _prepare_sqlite(connection: Any, _record: object) -> None:
    """Leave BEGIN to us, keep what is acknowledged through a power cut, check references."""
    connection.isolation_level = None
    connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    _write_ahead(connection)
    for pragma in (
        f"cache_size = -{CACHE_KIB}",
        "synchronous = FULL",
        "foreign_keys = ON",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _write_ahead(connection: sqlite3.Connection) -> None:
    """Switch to write-ahead logging, once in the life of a database.

    SQLite does not wait for others here as it does elsewhere: of two processes that open a new
    database at once, one would be told that it is locked.
    """
    patience = time.monotonic() + BUSY_TIMEOUT_MS / 1000
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or time.monotonic() > patience:
                raise
            time.sleep(0.01)
        else:
            return


def _begin_sqlite(turns: Turns, connection: Connection) -> None:
    """Take the write lock at once: a transaction that reads first could lose its race later."""
    options = connection.get_execution_options()
    if options.get("read_only", False):
        connection.exec_driver_sql("BEGIN")
    elif options.get("at_once", False):
        _begin_at_once(connection)
    else:
        turns.take(connection.connection)
        connection.exec_driver_sql("BEGIN IMMEDIATE")


def _begin_at_once(connection: Connection) -> None:
    """Take the write lock, or fail where somebody has it; what follows waits as usual."""
    connection.exec_driver_sql("PRAGMA busy_timeout = 0")
    try:
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    finally:
        connection.exec_driver_sql(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")


def _reading(engine: Engine) -> dict[str, Any]:
    """Return the options of connections that only read, and see one state while they do."""
    if engine.dialect.name == "postgresql":
        return {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
    return {"read_only": True}


class Database:
    """Sessions on one database: `write()` where a use case changes rows, `read()` elsewhere.

    `jot()` is for notes that can wait: on SQLite it fails at once where somebody is writing.
    `look()` is a bare connection that reads, for the one query that every request makes.
    """

    def __init__(self, url: str, connections: int = 5) -> None:
        self.engine = open_engine(url, connections)
        self.write = sessionmaker(self.engine, expire_on_commit=False)
        jotters = self.engine.execution_options(at_once=True)
        self.jot: sessionmaker[Session] = sessionmaker(jotters, expire_on_commit=False)
        readers = self.engine.execution_options(**_reading(self.engine))
        self.read: sessionmaker[Session] = sessionmaker(readers, expire_on_commit=False)
        self.look = readers.connect

    def close(self) -> None:
        """Give all connections back."""
        self.engine.dispose()
