"""What commands write is for its owner alone: it holds measurements and names."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.skipif(os.name != "posix", reason="Windows has no such rights")

OPEN_TO_ALL = "import os; os.umask(0); from service.cli import main; main()"


@pytest.fixture
def run(tmp_path: Path) -> Any:
    """Return a function that runs a command as one whose umask hides nothing would."""
    database = {"HEELDEPTH_DATABASE_URL": f"sqlite:///{tmp_path / 'heeldepth.db'}"}
    environment = {name: text for name, text in os.environ.items() if "HEELDEPTH" not in name}

    def command(*arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-c", OPEN_TO_ALL, *arguments],
            env=environment | database | {"HEELDEPTH_JOBS": "database"},
            capture_output=True,
            text=True,
            check=False,
        )

    return command


def test_every_file_of_a_database_is_for_its_owner_alone(run: Any, tmp_path: Path) -> None:
    for arguments in (
        ("database", "upgrade"),
        ("group", "create", "Invented group"),
        ("calibrate", "--group", "Invented group"),
        ("export", "--group", "Invented group", "--out", str(tmp_path / "out.csv")),
        ("backup", str(tmp_path / "backup.db")),
    ):
        done = run(*arguments)
        assert done.returncode == 0, done.stderr
    written = {file for file in tmp_path.rglob("*") if file.is_file()}
    assert {"heeldepth.db", "out.csv", "backup.db"} <= {file.name for file in written}
    for file in written:
        assert stat.S_IMODE(file.stat().st_mode) & 0o077 == 0, file.name


def test_a_database_that_others_can_read_is_left_so_and_named(run: Any, tmp_path: Path) -> None:
    file = tmp_path / "heeldepth.db"
    assert "can read" not in run("database", "upgrade").stderr
    file.chmod(0o644)
    said = run("database", "upgrade").stderr
    assert f"Others on this machine can read {file}" in said
    assert f"chmod 600 {file}" in said
    assert stat.S_IMODE(file.stat().st_mode) == 0o644
