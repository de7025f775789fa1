"""Threads of one process take turns at writing instead of meeting at SQLite's lock."""

from __future__ import annotations

import sqlite3
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import closing

import pytest
from sqlalchemy import event, func, select
from sqlalchemy.exc import OperationalError

from models.tables import turns
from models.tables.engine import Database
from models.tables.people import Group

THREADS = 8
EACH = 20

pytestmark = pytest.mark.only_on("sqlite")


@pytest.fixture
def impatient(database: Database) -> Database:
    """Return a database that does not wait where SQLite says that somebody else is writing."""

    def at_once(connection: sqlite3.Connection, *_: object) -> None:
        connection.execute("PRAGMA busy_timeout = 0")

    event.listen(database.engine, "checkout", at_once)
    return database


def add(database: Database, *, fail: bool = False) -> None:
    with database.write.begin() as session:
        session.add(Group(name="Invented Group"))
        session.flush()
        if fail:
            raise LookupError


def groups(database: Database) -> int:
    with database.read() as session:
        return session.scalar(select(func.count()).select_from(Group)) or 0


def test_no_thread_ever_finds_another_one_writing(impatient: Database) -> None:
    with ThreadPoolExecutor(THREADS) as people:
        list(people.map(lambda _: add(impatient), range(THREADS * EACH)))
    assert groups(impatient) == THREADS * EACH


def test_a_turn_is_given_back_by_who_failed(impatient: Database) -> None:
    with pytest.raises(LookupError):
        add(impatient, fail=True)
    with ThreadPoolExecutor(1) as other:
        other.submit(add, impatient).result(timeout=4)
    assert groups(impatient) == 1


def test_a_turn_is_given_back_by_who_met_another_process(
    impatient: Database, database_url: str
) -> None:
    with closing(sqlite3.connect(database_url.removeprefix("sqlite:///"))) as stranger:
        stranger.execute("BEGIN IMMEDIATE")
        with pytest.raises(OperationalError, match="locked"):
            add(impatient)
    with ThreadPoolExecutor(1) as other:
        other.submit(add, impatient).result(timeout=4)
    assert groups(impatient) == 1


def test_while_others_write_for_long_some_wait_on_and_the_rest_give_up_soon(
    database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(turns, "SOON_S", 0.2)
    database = Database(database_url, connections=8)
    file = database_url.removeprefix("sqlite:///")
    with closing(sqlite3.connect(file)) as stranger, ThreadPoolExecutor(THREADS) as people:
        stranger.execute("BEGIN IMMEDIATE")
        writers = [people.submit(add, database) for _ in range(THREADS)]
        gave_up, patient = wait(writers, timeout=4)
        stranger.rollback()
        for one in patient:
            one.result(timeout=10)
    assert len(patient) == 3, "one has the turn, and a quarter of eight connections wait for it"
    assert all("locked" in str(one.exception()) for one in gave_up)
    assert groups(database) == len(patient)
    database.close()
