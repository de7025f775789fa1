"""Damage is found, and what was looked at is said. Names are invented."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import func, make_url, select, text

from models.domain.reviews import COUNTING
from models.tables.socks import Report


def test_a_sound_database_passes(shell, filled) -> None:
    done = shell.run("check")
    assert done.exit_code == 0, done.output
    looked_at, left_out, found = done.output.splitlines()
    assert found == "No fault was found."
    assert "references and checks of all rows" in looked_at
    assert "the reports of calibrations that do not answer" in left_out


def test_files_and_indexes_are_looked_at_on_sqlite_alone(shell, backend: str) -> None:
    lines = {
        "sqlite": "Looked at: the file with its indexes; references",
        "postgresql": "Not looked at: PostgreSQL's files and indexes",
    }
    assert lines[backend] in shell.run("check").output


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
            "UPDATE sqlite_master SET rootpage = 4 WHERE name = 'ix_reports_group_id_member_id_id'"
        )
        plain.commit()
    done = shell.run("check")
    assert done.exit_code == 1
