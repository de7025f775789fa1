"""An upgrade that dies or fails half-way has not happened."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest
from alembic import command
from alembic.util import CommandError
from sqlalchemy import create_engine, make_url, text
from sqlalchemy.exc import IntegrityError

from migrations import revisions

REPORTS = 1000

MOVE_NOTES = """
if op.get_bind().dialect.name == "sqlite":
    op.execute("PRAGMA cache_size = 20")  # so that pages reach the disk before the end
op.add_column("reports", sa.Column("remarks", sa.String(2000)))
op.execute("UPDATE reports SET remarks = notes, notes = NULL")
op.create_table("washes", sa.Column("id", sa.Integer(), primary_key=True))
with op.batch_alter_table("reports") as batch:
    batch.alter_column("remarks", nullable=False)
"""
DIE = "os.kill(os.getpid(), signal.SIGKILL)\n"


@pytest.fixture
def populated(database, plant) -> None:
    with database.write.begin() as session:
        planted = plant(session, "Invented Group")
        session.add_all(planted.report(notes=f"{n} " * 200) for n in range(REPORTS))


@pytest.mark.usefixtures("populated")
def test_a_killed_upgrade_leaves_every_row(database_url, next_step, everything) -> None:
    before, log = everything(database_url), _write_ahead_log(database_url)
    next_step.write(MOVE_NOTES + DIE)
    _upgrade_and_die(next_step, database_url)
    assert _write_ahead_log(database_url) != log
    assert everything(database_url) == before
    assert revisions.current(database_url) == revisions.head()
    _assert_sound(database_url)


@pytest.mark.usefixtures("populated")
def test_a_killed_upgrade_can_be_tried_again(database_url, next_step, everything) -> None:
    notes = {row["id"]: row["notes"] for row in everything(database_url)["reports"]}
    next_step.write(MOVE_NOTES + DIE)
    _upgrade_and_die(next_step, database_url)
    next_step.write(MOVE_NOTES)
    command.upgrade(next_step.configuration(database_url), "head")
    after = everything(database_url)
    assert {row["id"]: row["remarks"] for row in after["reports"]} == notes
    assert after["alembic_version"] == [{"version_num": "later"}]
    _assert_sound(database_url)


def test_steps_before_the_one_that_was_killed_are_undone(
    empty_database_url, next_step, everything
) -> None:
    next_step.write(DIE)
    _upgrade_and_die(next_step, empty_database_url)
    assert everything(empty_database_url) == {}


@pytest.mark.usefixtures("populated")
def test_an_upgrade_that_would_orphan_rows_changes_nothing(
    database_url, next_step, everything
) -> None:
    before = everything(database_url)
    next_step.write('op.execute("DELETE FROM members")')
    with pytest.raises((CommandError, IntegrityError), match="feet"):
        command.upgrade(next_step.configuration(database_url), "head")
    assert everything(database_url) == before


def _upgrade_and_die(next_step, url: str) -> None:
    process = next_step.start(url)
    next_step.release(process)
    process.communicate()
    assert process.returncode == -signal.SIGKILL


def _write_ahead_log(url: str) -> bytes | object:
    """Return what SQLite has on disk beside the file; PostgreSQL's log is its own affair."""
    place = make_url(url)
    if place.get_backend_name() == "postgresql":
        return object()
    return Path(f"{place.database}-wal").read_bytes()


def _assert_sound(url: str) -> None:
    """Check what SQLite can say of itself; PostgreSQL refuses to start on a broken one."""
    engine = create_engine(url)
    if engine.dialect.name == "sqlite":
        with engine.connect() as connection:
            assert connection.execute(text("PRAGMA integrity_check")).scalar() == "ok"
            assert connection.execute(text("PRAGMA foreign_key_check")).all() == []
    engine.dispose()
