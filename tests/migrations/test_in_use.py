"""An upgrade of a PostgreSQL that others use neither stops them nor waits for ever."""

from __future__ import annotations

import time
from collections.abc import Iterator
from threading import Thread
from typing import Any

import pytest
from alembic import command
from sqlalchemy import Connection, NullPool, create_engine, text
from sqlalchemy.exc import OperationalError

from migrations import in_use, revisions
from models.domain.errors import Unavailable

pytestmark = pytest.mark.only_on("postgresql")

COUNT_WASHES = 'op.add_column("reports", sa.Column("washes", sa.Integer()))'
LOOK = text("SELECT count(*) FROM reports")
WAIT_MS = 300
BRIEFLY_S = 5
"""Much longer than a step waits here, and much shorter than a backup would be read."""


@pytest.fixture(autouse=True)
def hasty(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(in_use, "WAIT_MS", WAIT_MS)
    monkeypatch.setattr(in_use, "PAUSES_S", (0.2, 0.2))


@pytest.fixture
def others(database_url: str) -> Iterator[Any]:
    """Yield an engine of others who use the database; none of its connections waits long."""
    limit = {"options": f"-c statement_timeout={BRIEFLY_S}s"}
    engine = create_engine(database_url, poolclass=NullPool, connect_args=limit)
    yield engine
    engine.dispose()


@pytest.fixture
def reader(others: Any) -> Iterator[Connection]:
    """Yield a connection that has read reports in a transaction that goes on, as a backup does."""
    with others.connect() as connection:
        connection.execute(LOOK)
        yield connection


def test_an_upgrade_gives_up_a_table_that_is_read_for_long(
    reader, database_url, next_step, everything
) -> None:
    before = everything(database_url)
    next_step.write(COUNT_WASHES)
    with pytest.raises(Unavailable, match=r"nothing was changed: others .*ALTER TABLE reports"):
        command.upgrade(next_step.configuration(database_url), "head")
    assert everything(database_url) == before


def test_nobody_waits_behind_it_for_long(reader, others, database_url, next_step) -> None:
    """Were the table waited for, whoever reads it next would wait as long as the first reader."""
    next_step.write(COUNT_WASHES)
    upgrade = Thread(target=upgraded, args=(next_step, database_url))
    upgrade.start()
    reads = 0
    while upgrade.is_alive():
        with others.connect() as other:
            assert other.scalar(LOOK) == 0
        reads += 1
        time.sleep(0.05)
    upgrade.join()
    assert reads > 1
    assert revisions.current(database_url) == revisions.head()


def upgraded(next_step: Any, url: str) -> bool:
    """Return whether an upgrade was possible."""
    try:
        command.upgrade(next_step.configuration(url), "head")
    except Unavailable:
        return False
    return True


def test_it_is_done_at_a_later_try_once_the_reader_has_ended(
    reader, database_url, next_step, monkeypatch
) -> None:
    next_step.write(COUNT_WASHES)
    monkeypatch.setattr(in_use.time, "sleep", lambda _: reader.rollback())
    assert upgraded(next_step, database_url)
    assert revisions.current(database_url) == "later"


def test_what_else_fails_is_not_tried_again(database_url, next_step, monkeypatch) -> None:
    paused: list[float] = []
    monkeypatch.setattr(in_use.time, "sleep", paused.append)
    next_step.write(
        'op.execute("SET LOCAL statement_timeout = 50")\nop.execute("SELECT pg_sleep(9)")'
    )
    with pytest.raises(OperationalError, match="statement timeout"):
        command.upgrade(next_step.configuration(database_url), "head")
    assert paused == []


def test_other_migrations_are_waited_for_without_limit(others, database_url, next_step) -> None:
    """All tries and pauses together take less than the two seconds of the other migration."""
    next_step.write(COUNT_WASHES)
    upgrade = Thread(target=upgraded, args=(next_step, database_url))
    with others.begin() as migrating:
        migrating.execute(text("SELECT pg_advisory_xact_lock(5408132970641)"))
        upgrade.start()
        time.sleep(2)
        assert upgrade.is_alive()
    upgrade.join()
    assert revisions.current(database_url) == "later"
