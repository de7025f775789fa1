"""The engine: one place that knows how each database must be opened."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

import orjson
from sqlalchemy import Engine, PoolProxiedConnection, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError
from sqlalchemy.orm import sessionmaker

from models.tables.turns import Turns

BUSY_TIMEOUT_MS = 30_000
"""How long one who writes waits for another: as long as the longest file that the service
takes, some 350,000 rows, is written on a slow machine."""
CONNECT_TIMEOUT_S = 10
CACHE_KIB = 16_384
"""Pages SQLite keeps in memory, for each connection. With its default of 2 MiB a large import takes
twice as long, with four times as much it takes as long."""
CACHE_OF_MANY_KIB = 2_000
"""The same where there are many connections, each of which fills it as the database grows."""

FEW = 5
"""Connections of a process that does one thing: a command, a job."""

Begin = Callable[[PoolProxiedConnection], None]


def _to_json(value: object) -> str:
    return orjson.dumps(value, option=orjson.OPT_SORT_KEYS).decode()


_ALWAYS: dict[str, Any] = {
    "json_serializer": _to_json,
    "json_deserializer": orjson.loads,
    "hide_parameters": True,  # errors and logs name no values: they may be somebody's notes
}


def file_of(url: str) -> Path | None:
    """Return the file that a SQLAlchemy URL names by its path, None where it names none.

    >>> file_of("sqlite:////folder/heeldepth.db").as_posix(), file_of("postgresql+psycopg://x/y")
    ('/folder/heeldepth.db', None)
    """
    with suppress(ArgumentError):
        where = make_url(url)
        name = where.database if where.get_backend_name() == "sqlite" else None
        if name and not name.startswith(("file:", ":memory:")):
            return Path(name)
    return None


def open_engine(url: str, connections: int = FEW) -> Engine:
    """Return an engine for a SQLAlchemy URL; SQLite is opened so that no update can be lost.

    `connections` are kept open, one for each thing that is done at once.
    """
    where = make_url(url)
    sqlite = where.get_backend_name() == "sqlite"
    in_memory = sqlite and not where.database
    options: dict[str, Any] = {} if in_memory else {"pool_size": connections, "max_overflow": 5}
    if not sqlite:
        options["pool_pre_ping"] = True
        if "connect_timeout" not in where.query:
            options["connect_args"] = {"connect_timeout": CONNECT_TIMEOUT_S}
    engine = create_engine(url, **_ALWAYS, **options)
    if sqlite:
        cache_kib = CACHE_KIB if connections <= FEW else CACHE_OF_MANY_KIB
        event.listen(engine, "connect", partial(_prepare_sqlite, cache_kib))
        turns = Turns(engine, BUSY_TIMEOUT_MS / 1000, most_patient=max(1, connections // 4))
        _begin_by(engine, partial(_begin_in_turn, turns))
    else:
        event.listen(engine, "connect", _prepare_postgresql)
    return engine


def reading(engine: Engine) -> Engine:
    """Return an engine on the same connections that reads, and sees one state while it does."""
    if engine.dialect.name == "sqlite":
        return _beside(engine, _begin)
    return engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)


def jotting(engine: Engine) -> Engine:
    """Return an engine on the same connections that on SQLite never waits for the write lock."""
    return _beside(engine, partial(_begin_within, 0)) if engine.dialect.name == "sqlite" else engine


def _prepare_sqlite(cache_kib: int, connection: Any, _record: object) -> None:
    """Leave BEGIN to us, keep what is acknowledged through a power cut, check references."""
    connection.isolation_level = None
    connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    _write_ahead(connection)
    for pragma in (
        f"cache_size = -{cache_kib}",
        "synchronous = FULL",
        "foreign_keys = ON",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _prepare_postgresql(connection: Any, _record: object) -> None:
    """Wait for what others hold no longer than on SQLite; it has no limit of its own."""
    with connection.cursor() as cursor:
        cursor.execute(f"SET lock_timeout = {BUSY_TIMEOUT_MS}")
    connection.commit()


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


def _beside(engine: Engine, begin: Begin) -> Engine:
    other = create_engine(engine.url, pool=engine.pool, **_ALWAYS)
    _begin_by(other, begin)
    return other


def _begin_by(engine: Engine, begin: Begin) -> None:
    """Have an engine begin its transactions in a way of its own.

    An engine with a listener for this, or with options that say how, tries all its events at every
    statement: a request would take twice as long to find out who asks.
    """
    engine.dialect.do_begin = begin  # type: ignore[assignment, method-assign]


def _begin(pooled: PoolProxiedConnection) -> None:
    _run(pooled, "BEGIN")


def _begin_in_turn(turns: Turns, pooled: PoolProxiedConnection) -> None:
    """Take the write lock at once: a transaction that reads first could lose its race later."""
    left = turns.take(pooled)
    if left < turns.patience_s:
        _begin_within(left, pooled)
    else:
        _run(pooled, "BEGIN IMMEDIATE")


def _begin_within(seconds: float, pooled: PoolProxiedConnection) -> None:
    """Take the write lock, or fail where somebody has it for longer; later waits are as ever."""
    _run(pooled, f"PRAGMA busy_timeout = {int(1000 * seconds)}")
    try:
        _run(pooled, "BEGIN IMMEDIATE")
    finally:
        _run(pooled, f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")


def _run(pooled: PoolProxiedConnection, statement: str) -> None:
    driver: Any = pooled.driver_connection
    driver.execute(statement)


class Database:
    """Sessions on one database: `write()` where a use case changes rows, `read()` elsewhere.

    `jot()` is for notes that can wait: on SQLite it fails at once where somebody is writing.
    `look()` is a bare connection that reads, for the one query that every request makes.
    """

    def __init__(self, url: str, connections: int = FEW) -> None:
        self.engine = open_engine(url, connections)
        readers, jotters = reading(self.engine), jotting(self.engine)
        self.engines = (self.engine, readers, jotters)
        self.write = sessionmaker(self.engine, expire_on_commit=False)
        self.jot = sessionmaker(jotters, expire_on_commit=False)
        self.read = sessionmaker(readers, expire_on_commit=False)
        self.look = readers.connect

    def close(self) -> None:
        """Give all connections back."""
        for engine in self.engines:
            engine.dispose()
