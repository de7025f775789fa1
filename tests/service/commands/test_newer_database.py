"""The database was upgraded, and processes of the version before are still there."""

from __future__ import annotations

import http.client
import json
from typing import Any

import pytest
from sqlalchemy import text

from migrations.revisions import head
from models.tables.engine import Database
from tests.service.commands.test_processes import free_port, healthy

NEWER = f"{int(head()) + 1:04d}"
STEP = (
    "ALTER TABLE reports ADD COLUMN washes INTEGER",
    "CREATE TABLE washes (id INTEGER PRIMARY KEY)",
    "UPDATE alembic_version SET version_num = :newer",
)
"""What an invented step after the newest one does."""

COMMANDS = [
    ("backup", "kept"),
    ("check",),
    ("group", "create", "Nobody"),
    ("calibrate", "--group", "Nobody"),
    ("erasures", "list", "--out", "erasures.json"),
]


@pytest.fixture
def upgraded(database: Database) -> None:
    with database.write.begin() as session:
        for statement in STEP:
            session.execute(text(statement), {"newer": NEWER})


def asked(port: int, method: str, path: str, body: Any = None) -> tuple[int, Any]:
    """Return status and answer of a request to a server of ours."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    headers = {"Content-Type": "application/json"}
    connection.request(method, path, json.dumps(body) if body else None, headers)
    answer = connection.getresponse()
    found = answer.status, json.loads(answer.read())
    connection.close()
    return found


@pytest.mark.usefixtures("upgraded")
def test_a_server_that_is_started_again_is_ready_and_writes(shell, started) -> None:
    port = free_port()
    healthy(port, started(shell.start("serve", HEELDEPTH_PORT=str(port))))
    status, ready = asked(port, "GET", "/readyz")
    assert (status, ready["status"]) == (200, "ready")
    assert ready["migrations"].startswith(f"at {NEWER}, newer than this process")
    _, consent = asked(port, "GET", "/v1/consent")
    group = {"name": "Invented", "steward": "Alder", "consent_version": consent["version"]}
    assert asked(port, "POST", "/v1/groups", group)[0] == 201


@pytest.mark.usefixtures("upgraded")
def test_a_worker_that_is_started_again_works(shell, started) -> None:
    settings = {"HEELDEPTH_JOBS": "database", "PYTHONUNBUFFERED": "1"}
    worker = started(shell.start("work", **settings))
    assert worker.stdout.readline() == "Working on jobs, 2 at once.\n"
    worker.terminate()
    assert (worker.wait(timeout=15), worker.stderr.read()) == (0, "")


@pytest.mark.usefixtures("upgraded")
@pytest.mark.parametrize("arguments", COMMANDS, ids=lambda one: one[0])
@pytest.mark.only_on("sqlite")
def test_other_commands_leave_it_to_the_newer_version(shell, arguments) -> None:
    """A backup, above all, would be without what only the newer version knows."""
    done = shell.run(*arguments)
    assert (done.exit_code, done.stdout) == (1, "")
    said = f"the database is at migration {NEWER} and this version of heeldepth knows {head()}"
    assert said in done.stderr
    assert done.stderr.count("\n") == 1
