"""Backups hold every acknowledged row and come back whole; damage is found. Names are invented."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from threading import Event, Thread
from typing import Any

import pytest
from sqlalchemy import func, select

from models.actions import jobs
from models.actions.actor import Actor
from models.actions.job_files import BYTES_IN_A_PIECE
from models.domain.jobs import State
from models.domain.roles import Role
from models.tables.engine import Database, file_of
from models.tables.jobs import Job, JobPiece
from models.tables.people import Member
from models.tables.socks import Report
from service.jobs.runner import Runner


def test_a_restored_backup_has_every_row(
    shell, filled, contents, database_url, empty_database_url
) -> None:
    file = shell.backed_up()
    done = shell.run("restore", file, HEELDEPTH_DATABASE_URL=empty_database_url)
    assert done.exit_code == 0, done.output
    before, after = contents(database_url), contents(empty_database_url)
    assert after == before
    assert len(before["reports"]) == 3
    assert len(before["calibrations"]) == len(before["activations"]) == 1


def test_nothing_takes_the_place_of_the_database(
    shell, filled, database_url, contents, tmp_path, group
) -> None:
    before = contents(database_url)
    with another_in_use(tmp_path / "other.db") as other:
        files = [other]
        if own := file_of(database_url):
            link = tmp_path / "link.db"
            link.symlink_to(own)
            files += [own, link, own.with_name(f"{own.name}-wal")]
        for file in files:
            for arguments in (("backup", file), ("erasures", "list", "--out", file)):
                done = shell.run(*arguments)
                assert (done.exit_code, done.stdout) == (1, "")
    assert contents(database_url) == before
    with closing(sqlite3.connect(other)) as kept:
        assert kept.execute("SELECT * FROM invented").fetchall() == [(7,)]


@contextmanager
def another_in_use(file: Path) -> Iterator[Path]:
    with closing(sqlite3.connect(file)) as held:
        held.execute("PRAGMA journal_mode = WAL")
        held.execute("CREATE TABLE invented (number INTEGER)")
        held.execute("INSERT INTO invented VALUES (7)")
        held.commit()
        yield file


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
    file = shell.backed_up()
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
    assert shell.run("restore", shell.backed_up(), HEELDEPTH_DATABASE_URL=elsewhere).exit_code == 0
    answers = []
    for url in (database_url, elsewhere):
        out = shell.folder / "answers.csv"
        exported = shell.run("export", "--group", filled, "--out", out, HEELDEPTH_DATABASE_URL=url)
        assert exported.exit_code == 0, exported.output
        answers.append(out.read_bytes())
    assert answers[0] == answers[1]


def test_new_rows_are_numbered_after_the_restored_ones(shell, filled, empty_database_url) -> None:
    file = shell.backed_up()
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
            with closing(sqlite3.connect(shell.backed_up(f"kept-{round_}"))) as kept:
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


def test_only_its_owner_reads_a_backup(shell, filled) -> None:
    assert shell.backed_up().stat().st_mode & 0o077 == 0


def test_a_backup_that_cannot_be_written_leaves_the_one_before(shell, filled) -> None:
    file = shell.backed_up()
    before = file.read_bytes()
    failing = {"HEELDEPTH_DATABASE_URL": f"sqlite:///{shell.folder / 'missing.db'}"}
    assert shell.run("backup", file, **failing).exit_code == 1
    assert file.read_bytes() == before
    assert not list(shell.folder.glob(".kept-*"))


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize("there_before", [True, False])
def test_a_backup_goes_where_a_link_leads(shell, filled, tmp_path, there_before) -> None:
    kept, link = tmp_path / "other_disk" / "kept", tmp_path / "link"
    kept.parent.mkdir()
    link.symlink_to(kept)
    if there_before:
        kept.write_text("the one before")
    assert shell.backed_up(link.name) == link
    assert link.readlink() == kept
    assert kept.read_bytes().startswith(b"SQLite format 3")
    assert list(kept.parent.iterdir()) == [kept]
