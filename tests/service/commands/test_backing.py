"""Backups hold every acknowledged row and come back whole; damage is found. Names are invented."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from threading import Event, Thread
from typing import Any

import pytest
from sqlalchemy import MetaData, create_engine, func, make_url, select, text

from migrations import runner
from models.actions import jobs
from models.actions.actor import Actor
from models.actions.job_files import BYTES_IN_A_PIECE
from models.domain.jobs import State
from models.domain.reviews import COUNTING
from models.domain.roles import Role
from models.tables.engine import Database
from models.tables.jobs import Job, JobPiece
from models.tables.people import Group, Member
from models.tables.socks import Report
from service.jobs.runner import Runner

Contents = dict[str, list[tuple[Any, ...]]]


@pytest.fixture
def filled(shell, group: str) -> str:
    """Return the name of a group with reports, a calibration and an invitation."""
    for arguments in (
        ("import", shell.reports(), "--group", group),
        ("calibrate", "--group", group),
        ("invite", "--group", group),
    ):
        assert shell.run(*arguments).exit_code == 0
    return group


@pytest.fixture
def contents() -> Callable[[str], Contents]:
    """Return a function that reads every row of a database, as its own tables say."""

    def read(url: str) -> Contents:
        engine, found = create_engine(url), MetaData()
        with engine.connect() as connection:
            found.reflect(connection)
            rows = {
                table.name: sorted(map(repr, connection.execute(select(table)).all()))
                for table in found.sorted_tables
            }
        engine.dispose()
        return rows

    return read


@pytest.fixture
def elsewhere(tmp_path: Path) -> str:
    """Return the URL of a SQLite database that does not exist yet."""
    return f"sqlite:///{tmp_path / 'elsewhere.db'}"


def _backed_up(shell, name: str = "kept") -> Path:
    file: Path = shell.folder / name
    done = shell.run("backup", file)
    assert done.exit_code == 0, done.output
    return file


def test_a_restored_backup_has_every_row(
    shell, filled, contents, database_url, empty_database_url
) -> None:
    file = _backed_up(shell)
    done = shell.run("restore", file, HEELDEPTH_DATABASE_URL=empty_database_url)
    assert done.exit_code == 0, done.output
    before, after = contents(database_url), contents(empty_database_url)
    assert after == before
    assert len(before["reports"]) == 3
    assert len(before["calibrations"]) == len(before["activations"]) == 1


def test_a_restored_job_has_its_file_and_can_be_run(
    shell, group, database, contents, database_url, empty_database_url
) -> None:
    rows = 4_000
    content = shell.reports(rows).read_bytes()
    with database.write.begin() as session:
        steward = session.scalars(select(Member)).one()
        actor = Actor(steward.group_id, Role.STEWARD, steward.id, steward.name)
        asked = {"keep_good": False, "dry_run": False}
        job = jobs.ask_for(session, actor, "import", asked, io.BytesIO(content))
    file = _backed_up(shell)
    done = shell.run("restore", file, HEELDEPTH_DATABASE_URL=empty_database_url)
    assert done.exit_code == 0, done.output
    before, after = contents(database_url), contents(empty_database_url)
    assert len(before["job_pieces"]) == len(content) // BYTES_IN_A_PIECE + 1 > 2
    assert (after["jobs"], after["job_pieces"]) == (before["jobs"], before["job_pieces"])
    restored = Database(empty_database_url)
    Runner(restored).run(job.id)
    with restored.read() as session:
        ended = session.get_one(Job, job.id)
        assert (ended.state, ended.problem) == (State.DONE.value, None)
        assert session.scalar(select(func.count()).select_from(Report)) == rows
        assert session.scalar(select(func.count()).select_from(JobPiece)) == 0
    restored.close()


@pytest.mark.only_on("postgresql")
def test_a_backup_moves_a_group_between_databases(shell, filled, elsewhere, database_url) -> None:
    """What was calibrated on PostgreSQL answers alike on SQLite."""
    assert shell.run("restore", _backed_up(shell), HEELDEPTH_DATABASE_URL=elsewhere).exit_code == 0
    answers = []
    for url in (database_url, elsewhere):
        out = shell.folder / "answers.csv"
        exported = shell.run("export", "--group", filled, "--out", out, HEELDEPTH_DATABASE_URL=url)
        assert exported.exit_code == 0, exported.output
        answers.append(out.read_bytes())
    assert answers[0] == answers[1]


def test_new_rows_are_numbered_after_the_restored_ones(shell, filled, empty_database_url) -> None:
    file = _backed_up(shell)
    assert shell.run("restore", file, HEELDEPTH_DATABASE_URL=empty_database_url).exit_code == 0
    again = shell.run("calibrate", "--group", filled, HEELDEPTH_DATABASE_URL=empty_database_url)
    assert again.exit_code == 0, again.output


def test_a_backup_taken_while_others_write_has_all_that_was_acknowledged(
    shell, database, plant
) -> None:
    with database.write.begin() as session:
        planted = plant(session, "Busy group")
    acknowledged: list[str] = []
    stop = Event()
    writer = Thread(target=_write_on, args=(database, planted, acknowledged, stop))
    writer.start()
    try:
        for round_ in range(3):
            known = set(acknowledged)
            with closing(sqlite3.connect(_backed_up(shell, f"kept-{round_}"))) as kept:
                held = {row[0] for row in kept.execute("SELECT id FROM reports")}
                orphans = kept.execute("PRAGMA foreign_key_check").fetchall()
            assert known <= held
            assert not orphans
    finally:
        stop.set()
        writer.join()
    assert len(acknowledged) > 3


def _write_on(database: Database, planted: Any, acknowledged: list[str], stop: Event) -> None:
    while not stop.is_set():
        with database.write.begin() as session:
            report = planted.report()
            session.add(report)
        acknowledged.append(report.id)


def test_what_has_rows_is_not_restored_into(shell, filled, contents, database_url) -> None:
    before = contents(database_url)
    done = shell.run("restore", _backed_up(shell))
    assert done.exit_code == 1
    assert "restore" in done.output
    assert "into an empty one" in done.output
    assert contents(database_url) == before


@pytest.mark.parametrize("content", [b"", b"reporter,foot\n", b"SQLite format 3\0" + b"\1" * 5000])
def test_what_is_no_backup_is_refused(shell, elsewhere, content: bytes) -> None:
    file = shell.folder / "other"
    file.write_bytes(content)
    done = shell.run("restore", file, HEELDEPTH_DATABASE_URL=elsewhere)
    assert done.exit_code == 1
    assert "no backup of heeldepth" in done.output


def test_a_damaged_backup_is_refused(shell, filled, elsewhere) -> None:
    file = _backed_up(shell)
    spoiled = bytearray(file.read_bytes())
    spoiled[len(spoiled) // 3 : len(spoiled) // 3 + 9000] = bytes(9000)
    file.write_bytes(spoiled)
    assert shell.run("restore", file, HEELDEPTH_DATABASE_URL=elsewhere).exit_code == 1


def test_an_older_backup_is_brought_up_to_date(shell, tmp_path: Path, elsewhere) -> None:
    old = tmp_path / "old.db"
    runner.upgrade(f"sqlite:///{old}", "0001")
    with closing(sqlite3.connect(old)) as rows:
        rows.execute(
            "INSERT INTO groups (id, name, version, created_at) "
            "VALUES ('g', 'Old group', 1, '2026-01-02')"
        )
        rows.commit()
    before = old.read_bytes()
    done = shell.run("restore", old, HEELDEPTH_DATABASE_URL=elsewhere)
    assert done.exit_code == 0, done.output
    assert old.read_bytes() == before
    restored = Database(elsewhere)
    with restored.read() as session:
        assert session.scalars(select(Group.name)).all() == ["Old group"]
    restored.close()


def test_only_its_owner_reads_a_backup(shell, filled) -> None:
    assert _backed_up(shell).stat().st_mode & 0o077 == 0


def test_a_backup_that_cannot_be_written_leaves_the_one_before(shell, filled) -> None:
    file = _backed_up(shell)
    before = file.read_bytes()
    failing = {"HEELDEPTH_DATABASE_URL": f"sqlite:///{shell.folder / 'missing.db'}"}
    assert shell.run("backup", file, **failing).exit_code == 1
    assert file.read_bytes() == before
    assert not list(shell.folder.glob(".kept-*"))


def test_a_sound_database_passes(shell, filled) -> None:
    done = shell.run("check")
    assert done.exit_code == 0, done.output
    assert done.output.splitlines() == ["The database is sound."]


def test_a_calibration_without_its_reports_is_noted(shell, filled, database) -> None:
    with database.write.begin() as session:
        counting = select(Report).where(Report.status.in_(COUNTING)).limit(1)
        session.delete(session.scalars(counting).one())
    done = shell.run("check")
    assert done.exit_code == 0
    assert "rests on 2 reports, of which unchanged: 1; calibrate again" in done.output


def test_a_calibration_of_other_reports_is_a_fault(shell, filled, database) -> None:
    with database.write.begin() as session:
        session.execute(text("UPDATE calibrations SET fingerprint = 'other'"))
    done = shell.run("check")
    assert done.exit_code == 1
    assert "fault: calibration 1 of Invented group" in done.output


@pytest.mark.only_on("sqlite")
def test_orphans_and_impossible_rows_are_found(shell, filled, database_url) -> None:
    """SQLite only: there references and checks can be switched off by anybody with the file."""
    with closing(sqlite3.connect(str(make_url(database_url).database))) as plain:
        plain.execute("PRAGMA foreign_keys = OFF")
        plain.execute("PRAGMA ignore_check_constraints = ON")
        plain.execute("UPDATE reports SET foot_id = 'nowhere', fit_score = 7")
        plain.commit()
    done = shell.run("check")
    assert done.exit_code == 1
    assert "fault: reports: 3 rows name by group_id, foot_id what is not in feet" in done.output
    assert "fault: reports: 3 rows break the check ck_reports_fit_score" in done.output


@pytest.mark.only_on("sqlite")
def test_a_damaged_file_is_found(shell, filled, database, database_url) -> None:
    with database.read() as session:
        assert session.scalar(select(func.count()).select_from(Report)) == 3
    database.close()
    path = Path(str(make_url(database_url).database))
    with closing(sqlite3.connect(path)) as plain:
        plain.execute("PRAGMA writable_schema = ON")
        plain.execute(
            "UPDATE sqlite_master SET rootpage = 4 WHERE name = 'ix_reports_group_id_member_id'"
        )
        plain.commit()
    done = shell.run("check")
    assert done.exit_code == 1
