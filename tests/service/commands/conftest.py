"""The command `heeldepth` on a database and in a folder of its own. All names are invented."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from sqlalchemy import MetaData, create_engine, select

from models.domain.reports import USUAL_COLUMNS
from service.cli import main

collect_ignore = ["killed_in_its_job.py"]
"""Looked through for doctests it would be loaded, and kill the tests' own imports."""

LINE = "Alder,250,230,315,220,1,30,42,64,3,4,4,3,0"
HEADINGS = ",".join(USUAL_COLUMNS)
QUESTION = """\
case_id,foot_length_mm,foot_circumference_mm,heel_diagonal_mm,ankle_circumference_mm,yarn_weight,\
stitches_per_10cm,rounds_per_10cm,heel_stitches,closing_stitches,medium_decrease_rounds
a,252,236,318,,1,30,42,64,16,4
"""
COMMAND = "from service.cli import main; main()"


Contents = dict[str, list[tuple[Any, ...]]]


@dataclass(frozen=True)
class Shell:
    """Runs commands the way a terminal does, with nothing of this machine's own settings."""

    folder: Path
    settings: dict[str, str]

    def run(self, *arguments: str | Path, **settings: str) -> Result:
        """Run a command in this process."""
        environment = {**dict.fromkeys(_ours()), **self.settings, **settings}
        return CliRunner().invoke(main, [*map(str, arguments)], env=environment)

    def start(
        self, *arguments: str | Path, code: str = COMMAND, **settings: str
    ) -> subprocess.Popen[str]:
        """Start a command as a process of its own."""
        own = {name: value for name, value in os.environ.items() if name not in _ours()}
        return subprocess.Popen(
            [sys.executable, "-c", code, *map(str, arguments)],
            env={**own, **self.settings, **settings},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def file(self, content: str, name: str = "invented.csv") -> Path:
        """Return a file with some content."""
        path = self.folder / name
        path.write_text(content)
        return path

    def reports(self, number: int = 3, *, wrong: int = 0) -> Path:
        """Return a file of invented reports, the wrong ones last."""
        lines = [HEADINGS, *[LINE] * number, *[LINE[:-1] + "9"] * wrong]
        return self.file("\n".join(lines) + "\n")

    def backed_up(self, name: str = "kept") -> Path:
        """Return a backup of the database."""
        done = self.run("backup", self.folder / name)
        assert done.exit_code == 0, done.output
        return self.folder / name


def _ours() -> set[str]:
    return {name for name in os.environ if name.startswith("HEELDEPTH_")}


@pytest.fixture
def shell(tmp_path: Path, database_url: str) -> Shell:
    """Return a shell on a database at head."""
    settings = {"HEELDEPTH_DATABASE_URL": database_url, "XDG_DATA_HOME": str(tmp_path / "data")}
    return Shell(tmp_path, settings)


@pytest.fixture
def group(shell: Shell) -> str:
    """Return the name of an invented group in the database."""
    assert shell.run("group", "create", "Invented group").exit_code == 0
    return "Invented group"


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


@pytest.fixture
def started() -> Iterator[Callable[..., Any]]:
    """Yield a function that keeps a process to be killed, should a test not end it."""
    kept: list[subprocess.Popen[str]] = []

    def keep(process: subprocess.Popen[str]) -> subprocess.Popen[str]:
        kept.append(process)
        return process

    yield keep
    for process in kept:
        if process.poll() is None:
            process.kill()
        process.communicate()


@pytest.fixture
def question() -> str:
    """Return a file of one invented question."""
    return QUESTION
