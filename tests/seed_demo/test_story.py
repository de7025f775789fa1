"""The demo, told twice on a database of its own. Everybody in it is invented."""

from __future__ import annotations

import re
import stat
from pathlib import Path

import pytest
from click.testing import CliRunner
from sqlalchemy import func, select

from models.actions.tokens import digest
from models.tables.base import Base
from models.tables.engine import Database
from models.tables.learned import Calibration
from models.tables.people import Group, IdempotencyKey, Member, Token
from models.tables.socks import Foot, Report
from seed_demo import people
from service.cli import main


def told(settings: dict[str, str]) -> str:
    """Return what the demo prints."""
    done = CliRunner().invoke(main, ["demo"], env=settings)
    assert done.exit_code == 0, done.output
    return done.stdout


def counted(url: str) -> dict[str, int]:
    """Return how many rows every table has."""
    database = Database(url)
    with database.read() as session:
        counts = {
            table.name: session.scalar(select(func.count()).select_from(table)) or 0
            for table in Base.metadata.sorted_tables
        }
    database.close()
    return counts


@pytest.fixture
def settings(tmp_path: Path, empty_database_url: str) -> dict[str, str]:
    return {
        "HEELDEPTH_DATABASE_URL": empty_database_url,
        "XDG_DATA_HOME": str(tmp_path),
    }


def test_the_demo_reports_calibrates_suggests_and_a_second_telling_changes_nothing(
    settings, tmp_path
) -> None:
    url = settings["HEELDEPTH_DATABASE_URL"]
    said = told(settings)
    first = counted(url)
    assert "nobody in it exists and no sock of it was ever knitted" in said
    assert "Calibration 1 rests on 150 reports of 12 reporters." in said
    assert re.search(r"work \d+ slow-decrease rounds; the chance .* is about \d\d%", said)
    assert re.search(r"Finer: \d plain and \d+ slow-decrease rounds, \d+ mm deep: \d\d%", said)
    assert "Worth measuring" not in said  # the demo's foot has its heel diagonal
    assert {name: first[name] for name in ("groups", "members", "reports", "calibrations")} == {
        "groups": 1,
        "members": 13,  # twelve reporters and the steward
        "reports": 150,
        "calibrations": 1,
    }
    assert said.count(" slow-decrease rounds become ") == 5
    assert said.count("heel diagonal about ") == 4
    assert (first["designs"], first["sizes"], first["adoptions"]) == (1, 5, 1)
    for heading in ("WASTE YARN", "PICK UP", "PLAIN", "SLOW", "MEDIUM", "FAST", "CLOSE"):
        assert f"\n{heading}\n" in said
    assert "Serve it:   heeldepth serve" in said
    token_file = Path(said.partition("The token:  ")[2].splitlines()[0])
    assert token_file.is_file()
    assert without_progress(told(settings)) == without_progress(said)
    assert counted(url) == first


def without_progress(said: str) -> str:
    return "\n".join(line for line in said.splitlines() if "Recording" not in line)


@pytest.mark.only_on("sqlite")
def test_what_the_demo_stores_came_over_http_and_the_token_opens_it(settings, tmp_path) -> None:
    told(settings)
    (file,) = (tmp_path / "heeldepth").glob("demo-token*")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    database = Database(settings["HEELDEPTH_DATABASE_URL"])
    with database.read() as session:
        kept = set(session.scalars(select(IdempotencyKey.key)))
        assert session.scalars(select(Token.digest)).all() == [digest(file.read_text())]
        names = set(session.scalars(select(Member.name)))
        notes = set(session.scalars(select(Report.notes)))
        (group,) = session.scalars(select(Group.name))
        (calibration,) = session.scalars(select(Calibration))
    database.close()
    assert len([key for key in kept if key.startswith("demo report ")]) == 150
    assert names == {*people.REPORTERS, people.STEWARD}
    assert notes == {"invented"}
    assert "Invented" in group
    assert calibration.artefact["reports"] == 150
    assert calibration.artefact["mean"][0] > 0


@pytest.mark.only_on("sqlite")
def test_a_telling_that_was_cut_off_goes_on_where_it_stopped(settings, monkeypatch) -> None:
    real = people.reports
    monkeypatch.setattr(people, "reports", lambda: cut_off(real()))
    done = CliRunner().invoke(main, ["demo"], env=settings)
    assert isinstance(done.exception, InterruptedError)
    monkeypatch.setattr(people, "reports", real)
    told(settings)
    after = counted(settings["HEELDEPTH_DATABASE_URL"])
    assert (after["reports"], after["groups"], after["calibrations"]) == (150, 1, 1)


def cut_off(reports):
    """Yield forty reports and then fail."""
    for number, report in enumerate(reports):
        if number == 40:
            raise InterruptedError
        yield report


@pytest.mark.only_on("sqlite")
def test_another_database_is_told_the_story_too(settings, tmp_path) -> None:
    told(settings)
    other = f"sqlite:///{tmp_path / 'other.db'}"
    told({**settings, "HEELDEPTH_DATABASE_URL": other})
    assert counted(other) == counted(settings["HEELDEPTH_DATABASE_URL"])
    database = Database(other)
    with database.read() as session:
        assert session.scalar(select(func.count()).select_from(Foot)) == 150
    database.close()
