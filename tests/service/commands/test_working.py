"""Work in the background by processes that are killed and stopped. All rows are invented."""

from __future__ import annotations

import json
import os
import signal
import sys
import time
from pathlib import Path
from typing import Any
from urllib.request import Request, urlopen

import pytest
from sqlalchemy import func, select

from models.tables.engine import Database
from models.tables.people import Member
from models.tables.socks import Foot, Report
from tests.service.commands.test_processes import free_port, healthy

ROWS, FEET = 6_000, 1_500
SECONDS = 60

KILLED_IN_ITS_JOB = """
from service import apart
apart.LOADED = (*apart.LOADED, "killed_in_its_job")
from service.cli import main
main()
"""
BESIDE = os.pathsep.join([str(Path(__file__).parent), *filter(None, sys.path)])
"""The PYTHONPATH by which the processes of a server find the module that kills it."""

IMPATIENT = """
from datetime import timedelta
from models.actions import job_runs
job_runs.STALE = timedelta(seconds=1)
from service.jobs import runner
runner.BEAT = timedelta(seconds=.2)
from service.cli import main
main()
"""
"""Thirty seconds are long in a test."""


class Group:
    """A group over HTTP, seen by its steward."""

    def __init__(self, shell: Any) -> None:
        said = shell.run("group", "create", "Invented group").stdout
        self.token = next(word for word in said.split() if word.startswith("heeldepth_"))
        self.port, self.group_id = 0, ""

    def ask(
        self, method: str, path: str, data: bytes | None = None, kind: str = "text/csv"
    ) -> dict[str, Any]:
        return dict(json.loads(self.answer(method, path, data, kind)))

    def answer(self, method: str, path: str, data: bytes | None, kind: str) -> bytes:
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": kind}
        url = f"http://127.0.0.1:{self.port}/v1{path}"
        with urlopen(Request(url, data, headers, method=method), timeout=20) as answer:
            return bytes(answer.read())

    def found(self, port: int) -> None:
        self.port = port
        self.group_id = self.ask("GET", "/groups")["items"][0]["id"]

    def job(self, job_id: str) -> dict[str, Any]:
        return self.ask("GET", f"/groups/{self.group_id}/jobs/{job_id}")

    def ended(self, job_id: str) -> dict[str, Any]:
        patience = time.monotonic() + SECONDS
        while (job := self.job(job_id))["ended_at"] is None:
            assert time.monotonic() < patience, job
            time.sleep(0.1)
        return job


@pytest.fixture
def group(shell: Any) -> Group:
    return Group(shell)


@pytest.fixture
def content(shell: Any) -> bytes:
    """Return a file of many invented reports."""
    first = Path(shell.reports(1)).read_text().splitlines()[0]
    tail = "230,315,220,1,30,42,64,3,4,4,3,0"
    names = ["Alder", "Birch", "Cedar"]
    rows = (f"{names[n % 3]},{240 + n % 500 / 50},{tail}" for n in range(ROWS))
    return ("\n".join([first, *rows]) + "\n").encode()


def counted(shell: Any) -> list[int]:
    database = Database(shell.settings["HEELDEPTH_DATABASE_URL"])
    with database.read() as session:
        found = [
            session.scalar(select(func.count()).select_from(table)) or 0
            for table in (Report, Foot, Member)
        ]
    database.close()
    return found


def serving(shell: Any, started: Any, group: Group, **options: str) -> Any:
    port = free_port()
    process = started(shell.start("serve", HEELDEPTH_PORT=str(port), **options))
    healthy(port, process)
    group.found(port)
    return process


def test_an_import_whose_process_is_killed_is_done_once_by_the_next_one(
    shell: Any, started: Any, group: Group, content: bytes
) -> None:
    doomed = serving(shell, started, group, code=KILLED_IN_ITS_JOB, PYTHONPATH=BESIDE)
    job_id = group.ask("POST", f"/groups/{group.group_id}/imports", content)["id"]
    doomed.communicate(timeout=SECONDS)
    assert doomed.returncode == -signal.SIGKILL
    assert counted(shell) == [0, 0, 1]
    serving(shell, started, group, code=IMPATIENT)
    ended = group.ended(job_id)
    assert (ended["state"], ended["result"]["taken"]) == ("done", ROWS)
    assert counted(shell) == [ROWS, FEET, 4]


def test_workers_beside_the_service_do_its_work_and_stop_when_told(
    shell: Any, started: Any, group: Group, content: bytes
) -> None:
    with_queue = {"HEELDEPTH_JOBS": "database"}
    server = serving(shell, started, group, **with_queue)
    worker = started(shell.start("work", **with_queue))
    job_id = group.ask("POST", f"/groups/{group.group_id}/imports", content)["id"]
    assert group.ended(job_id)["result"]["taken"] == ROWS
    for process in (worker, server):
        process.terminate()
        out, err = process.communicate(timeout=15)
        assert (process.returncode, "Traceback" in err) == (0, False), err
    assert "Working on jobs, 2 at once." in out or "Serving on" in out


@pytest.mark.only_on("sqlite")
def test_a_worker_needs_a_queue_that_it_can_share(shell: Any) -> None:
    done = shell.run("work")
    assert done.exit_code == 1
    assert "HEELDEPTH_JOBS is 'in-process': set it to database or to a Redis URL" in done.stderr
