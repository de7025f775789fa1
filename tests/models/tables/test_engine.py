from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import event, func, select, text

from models.tables.engine import BUSY_TIMEOUT_MS, Database, open_engine
from models.tables.people import Group
from models.tables.socks import Yarn

WRITERS = 4
CHANGES = 25


@pytest.mark.only_on("sqlite")
def test_read_then_change_then_write_by_many_at_once_loses_nothing(database, plant) -> None:
    with database.write.begin() as session:
        group_id = plant(session, "Invented Group").group_id
        session.add(Yarn(id="y", group_id=group_id, name="a", yarn_weight=1, metres_per_100g=1.0))

    def lengthen(_: int) -> None:
        for _ in range(CHANGES):
            with database.write.begin() as session:
                yarn = session.get_one(Yarn, "y")
                yarn.metres_per_100g = (yarn.metres_per_100g or 0) + 1

    with ThreadPoolExecutor(WRITERS) as pool:
        list(pool.map(lengthen, range(WRITERS)))
    with database.read() as session:
        assert session.get_one(Yarn, "y").metres_per_100g == 1 + WRITERS * CHANGES


def test_readers_do_not_wait_for_a_writer_and_see_what_was_committed(database) -> None:
    with database.write.begin() as session:
        session.add(Group(name="Invented Group"))
        session.flush()
        with database.read() as reader:
            assert reader.scalar(select(func.count()).select_from(Group)) == 0
    with database.read() as reader:
        assert reader.scalar(select(func.count()).select_from(Group)) == 1


@pytest.mark.only_on("sqlite")
def test_a_reader_sees_one_state_while_others_write(database) -> None:
    with database.read() as reader:
        before = reader.scalar(select(func.count()).select_from(Group))
        with database.write.begin() as session:
            session.add(Group(name="Invented Group"))
        assert reader.scalar(select(func.count()).select_from(Group)) == before


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize(
    ("pragma", "value"),
    [
        ("journal_mode", "wal"),
        ("synchronous", 2),
        ("foreign_keys", 1),
        ("busy_timeout", BUSY_TIMEOUT_MS),
    ],
)
def test_sqlite_is_opened_so_that_nothing_acknowledged_is_lost(database, pragma, value) -> None:
    with database.read() as session:
        assert session.scalar(text(f"PRAGMA {pragma}")) == value


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize(("connections", "kib"), [(5, 16_384), (19, 2_000)])
def test_many_connections_keep_few_pages_in_memory(
    database_url: str, connections: int, kib: int
) -> None:
    opened = Database(database_url, connections)
    with opened.read() as session:
        assert session.scalar(text("PRAGMA cache_size")) == -kib
    opened.close()


def test_a_failed_use_case_leaves_nothing(database) -> None:
    def fail() -> None:
        with database.write.begin() as session:
            session.add(Group(name="Invented Group"))
            session.flush()
            raise LookupError

    with pytest.raises(LookupError):
        fail()
    with database.read() as session:
        assert session.scalar(select(func.count()).select_from(Group)) == 0


def test_what_is_closed_can_be_opened_again(database, database_url) -> None:
    with database.write.begin() as session:
        session.add(Group(name="Invented Group"))
    database.close()
    again = Database(database_url)
    with again.read() as session:
        assert session.scalar(select(Group.name)) == "Invented Group"
    again.close()


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize(("given", "seconds"), [("", 10), ("&connect_timeout=3", "3")])
def test_what_a_url_of_postgresql_says_is_left_as_it_is(given: str, seconds: object) -> None:
    engine = open_engine(f"postgresql+psycopg://u@/invented?host=one&host=two{given}")
    told: list[dict[str, object]] = []

    @event.listens_for(engine, "do_connect")
    def connecting(_dialect: object, _record: object, _given: object, options: dict) -> None:
        told.append(options)
        raise ConnectionError

    with pytest.raises(ConnectionError):
        engine.connect()
    assert (told[0]["host"], told[0]["connect_timeout"]) == ("one,two", seconds)
