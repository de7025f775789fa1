"""Throw-away migrations after the newest one, and pictures of what a database holds."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from textwrap import indent
from typing import Any

import pytest
from alembic.config import Config
from sqlalchemy import MetaData, create_engine, select

from migrations import revisions, runner

COMMAND = """
import sys
from alembic import command
from migrations.runner import configuration
config = configuration(sys.argv[1])
config.set_main_option("version_locations", sys.argv[2])
print("ready", flush=True)
sys.stdin.readline()
command.upgrade(config, "head")
"""

STEP = """
import os, signal
import sqlalchemy as sa
from alembic import op

revision = "later"
down_revision = "{head}"

def upgrade():
{body}
"""


class NextStep:
    """One migration after the newest, in a directory of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.written = 0

    @property
    def locations(self) -> str:
        return os.pathsep.join([str(runner.HERE / "versions"), str(self.folder)])

    def write(self, body: str) -> None:
        """Replace the step; a new file name keeps Python from running remembered bytecode."""
        for old in self.folder.glob("*.py"):
            old.unlink()
        self.written += 1
        source = STEP.format(head=revisions.head(), body=indent(body, "    "))
        (self.folder / f"later_{self.written}.py").write_text(source)

    def configuration(self, url: str) -> Config:
        """Return settings under which `head` is the step."""
        config = runner.configuration(url)
        config.set_main_option("version_locations", self.locations.replace("%", "%%"))
        return config

    def start(self, url: str) -> subprocess.Popen[str]:
        """Start a process that says when it is ready and upgrades when it reads a line."""
        return subprocess.Popen(
            [sys.executable, "-c", COMMAND, url, self.locations],
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    @staticmethod
    def release(*processes: subprocess.Popen[str]) -> None:
        """Let processes that `start` started upgrade, all at once when the last is ready."""
        for process in processes:
            assert process.stdout is not None
            assert process.stdout.readline() == "ready\n"
        for process in processes:
            assert process.stdin is not None
            process.stdin.write("go\n")
            process.stdin.flush()


@pytest.fixture
def next_step(tmp_path: Path) -> NextStep:
    folder = tmp_path / "later"
    folder.mkdir()
    return NextStep(folder)


@pytest.fixture
def everything() -> Callable[[str], dict[str, list[dict[str, Any]]]]:
    """Return a function that reads every row of every table, the version row among them."""

    def read(url: str) -> dict[str, list[dict[str, Any]]]:
        engine = create_engine(url)
        tables = MetaData()
        tables.reflect(engine)
        with engine.connect() as connection:
            found = {
                table.name: [dict(row) for row in connection.execute(select(table)).mappings()]
                for table in tables.sorted_tables
            }
        engine.dispose()
        return {
            name: sorted(rows, key=lambda row: str(row.get("id"))) for name, rows in found.items()
        }

    return read
