"""What is restored comes whole or not at all, into what was empty. Names are invented."""

from __future__ import annotations

import errno
import os
import re
import shutil
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import Result
from sqlalchemy import create_engine, make_url, select, text

from migrations import revisions, runner
from models.actions.tokens import digest
from models.tables.accounts import Account
from models.tables.base import now
from models.tables.engine import Database
from models.tables.people import Group, Token

OLDEST = "0001"
OLD_GROUP = (
    "INSERT INTO groups (id, name, version, created_at) VALUES ('g', 'Old group', 1, '2026-01-02')"
)


def test_what_has_rows_is_not_restored_into(shell, filled, contents, database_url) -> None:
    before = contents(database_url)
    done = shell.run("restore", shell.backed_up())
    assert done.exit_code == 1
    assert "restore" in done.output
    assert "into an empty one" in done.output
    assert contents(database_url) == before


def test_a_live_older_database_is_left_as_it_is(
    shell, filled, contents, empty_database_url
) -> None:
    runner.upgrade(empty_database_url, OLDEST)
    engine = create_engine(empty_database_url)
    with engine.begin() as connection:
        connection.execute(text(OLD_GROUP))
    engine.dispose()
    before = contents(empty_database_url)
    file = shell.backed_up()
    done = shell.run("restore", file, HEELDEPTH_DATABASE_URL=empty_database_url)
    _assert_refused(done, "the database holds 1 row already")
    assert revisions.current(empty_database_url) == OLDEST
    assert contents(empty_database_url) == before


def test_an_older_database_without_rows_is_upgraded_and_filled(
    shell, filled, contents, database_url, empty_database_url
) -> None:
    runner.upgrade(empty_database_url, OLDEST)
    file = shell.backed_up()
    done = shell.run("restore", file, HEELDEPTH_DATABASE_URL=empty_database_url)
    assert done.exit_code == 0, done.output
    assert contents(empty_database_url) == contents(database_url)


def test_a_database_of_a_newer_version_is_left_as_it_is(
    shell, filled, contents, empty_database_url
) -> None:
    file = shell.backed_up()
    runner.upgrade(empty_database_url)
    _call_newer(empty_database_url)
    before = contents(empty_database_url)
    done = shell.run("restore", file, HEELDEPTH_DATABASE_URL=empty_database_url)
    _assert_refused(done, "a newer version of heeldepth made this database")
    assert contents(empty_database_url) == before


def test_a_backup_of_a_newer_version_is_refused(shell, filled, elsewhere) -> None:
    file = shell.backed_up()
    _call_newer(f"sqlite:///{file}")
    done = shell.run("restore", file, HEELDEPTH_DATABASE_URL=elsewhere)
    _assert_refused(done, f"a newer version of heeldepth made {file}")
    assert not Path(str(make_url(elsewhere).database)).exists()


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize(
    ("spoiled_by", "said"),
    [
        (
            "INSERT INTO members (id, group_id, name, role, joined_at) "
            "VALUES ('m', 'nowhere', 'Alder', 'knitter', '2026-01-02')",
            "cannot upgrade {file}: nothing was changed: 1 rows would lose what they refer to",
        ),
        ("DROP TABLE reports", "cannot upgrade {file}: it has no table reports"),
        (
            "CREATE TABLE reviews (id INTEGER)",
            "cannot bring a copy of {file} up to date: table reviews already exists",
        ),
    ],
)
def test_an_older_backup_that_cannot_be_brought_up_to_date_is_refused(
    shell, elsewhere, spoiled_by: str, said: str
) -> None:
    file = shell.folder / "old"
    runner.upgrade(f"sqlite:///{file}", OLDEST)
    with closing(sqlite3.connect(file)) as rows:
        rows.execute(spoiled_by)
        rows.commit()
    done = shell.run("restore", file, HEELDEPTH_DATABASE_URL=elsewhere)
    _assert_refused(done, said.format(file=file))
    assert not Path(str(make_url(elsewhere).database)).exists()


@pytest.mark.only_on("sqlite")
def test_a_backup_that_there_is_no_room_to_copy_is_refused(
    shell, filled, elsewhere, monkeypatch, tmp_path
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    file = shell.backed_up()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setattr(shutil, "copyfile", full)
    done = shell.run("restore", file, HEELDEPTH_DATABASE_URL=elsewhere)
    _assert_refused(done, f"cannot copy {file} to a folder in TMPDIR: No space left on device")
    assert not Path(str(make_url(elsewhere).database)).exists()
    assert not list(tmp_path.glob("heeldepth-*"))


def test_what_readme_says_of_tokens_that_are_back_ends_them(world) -> None:
    said = (Path(__file__).parents[3] / "README.md").read_text()
    (statements,) = re.findall(r"```sql\n(.*?)```", said, re.DOTALL)
    named, unnamed = world.mine.steward, world.mine.knitter
    with world.database.write.begin() as session:
        theirs = select(Token.person_id).where(Token.digest == digest(named.token))
        account = {"username": "alder", "password_hash": "invented", "changed_at": now()}
        session.add(Account(person_id=session.scalars(theirs).one(), **account))
    with world.database.write.begin() as session:
        for statement in filter(None, map(str.strip, statements.split(";"))):
            session.execute(text(statement))
    assert named.get("/reports").status_code == 401
    assert unnamed.get("/reports").status_code == 200


def _call_newer(url: str) -> None:
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    engine.dispose()


def _assert_refused(done: Result, said: str) -> None:
    """Assert that a command ended by one line of its own and no traceback."""
    assert (done.exit_code, done.stdout) == (1, "")
    assert said in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("content", [b"", b"reporter,foot\n", b"SQLite format 3\0" + b"\1" * 5000])
def test_what_is_no_backup_is_refused(shell, elsewhere, content: bytes) -> None:
    file = shell.folder / "other"
    file.write_bytes(content)
    done = shell.run("restore", file, HEELDEPTH_DATABASE_URL=elsewhere)
    assert done.exit_code == 1
    assert "no backup of heeldepth" in done.output


def test_a_damaged_backup_is_refused(shell, filled, elsewhere) -> None:
    file = shell.backed_up()
    spoiled = bytearray(file.read_bytes())
    spoiled[len(spoiled) // 3 : len(spoiled) // 3 + 9000] = bytes(9000)
    file.write_bytes(spoiled)
    assert shell.run("restore", file, HEELDEPTH_DATABASE_URL=elsewhere).exit_code == 1


def test_an_older_backup_is_brought_up_to_date(shell, tmp_path: Path, elsewhere) -> None:
    old = tmp_path / "old.db"
    runner.upgrade(f"sqlite:///{old}", OLDEST)
    with closing(sqlite3.connect(old)) as rows:
        rows.execute(OLD_GROUP)
        rows.commit()
    before = old.read_bytes()
    done = shell.run("restore", old, HEELDEPTH_DATABASE_URL=elsewhere)
    assert done.exit_code == 0, done.output
    assert old.read_bytes() == before
    restored = Database(elsewhere)
    with restored.read() as session:
        assert session.scalars(select(Group.name)).all() == ["Old group"]
    restored.close()
