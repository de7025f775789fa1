"""Work queued in Redis, by processes that are killed, and while Redis is gone."""

from __future__ import annotations

import json
import signal
import time
from typing import Any

import pytest

from models.domain.jobs import State
from tests.service.commands.test_working import (
    BESIDE,
    FEET,
    IMPATIENT,
    KILLED_IN_ITS_JOB,
    ROWS,
    SECONDS,
    Group,
    content,
    counted,
    group,
    serving,
)
from tests.service.redis_server import RedisServer

__all__ = ["content", "group"]

MUST_ANSWER_WITHIN = 5
"""Seconds, although the queue cannot be reached."""


class Shared:
    """One service, and workers beside it, that share a queue in Redis."""

    def __init__(self, shell: Any, started: Any, group: Group, queue: RedisServer) -> None:
        self._shell, self._started, self.group = shell, started, group
        self._settings = {"HEELDEPTH_JOBS": queue.url}
        self.server = serving(shell, started, group, **self._settings)

    def worker(self, **options: str) -> Any:
        return self._started(self._shell.start("work", **self._settings, **options))

    def post(self, path: str, body: dict[str, Any]) -> dict[str, Any]:
        kind, whole = "application/json", f"/groups/{self.group.group_id}{path}"
        return self.group.ask("POST", whole, json.dumps(body).encode(), kind)

    def take_in(self, content: bytes) -> str:
        job = self.group.ask("POST", f"/groups/{self.group.group_id}/imports", content)
        return str(job["id"])

    def file(self, job_id: str) -> list[str]:
        path = f"/groups/{self.group.group_id}/jobs/{job_id}/file"
        return self.group.answer("GET", path, None, "text/csv").decode().splitlines()


@pytest.fixture
def shared(shell: Any, started: Any, group: Group, redis_server: RedisServer) -> Shared:
    return Shared(shell, started, group, redis_server)


def test_a_worker_beside_the_service_does_what_is_queued_and_stops_when_told(
    shared: Shared, content: bytes
) -> None:
    worker = shared.worker()
    assert shared.group.ended(shared.take_in(content))["result"]["taken"] == ROWS
    job_id = shared.post("/exports", {"form": "csv"})["id"]
    assert shared.group.ended(job_id)["state"] == State.DONE
    assert len(shared.file(job_id)) == 1 + ROWS
    for process in (worker, shared.server):
        process.terminate()
        _, err = process.communicate(timeout=15)
        assert (process.returncode, "Traceback" in err) == (0, False), err


def test_what_is_called_off_before_a_worker_comes_is_never_done(
    shell: Any, shared: Shared, content: bytes
) -> None:
    called_off, wanted = shared.take_in(content), shared.post("/exports", {"form": "csv"})["id"]
    assert shared.post(f"/jobs/{called_off}/cancellation", {})["state"] == State.CANCELLED
    shared.worker()
    assert shared.group.ended(wanted)["state"] == State.DONE
    assert shared.group.job(called_off)["state"] == State.CANCELLED
    assert counted(shell) == [0, 0, 1]


def test_the_job_of_a_worker_that_is_killed_is_done_once_by_another(
    shell: Any, shared: Shared, content: bytes
) -> None:
    doomed = shared.worker(code=KILLED_IN_ITS_JOB, PYTHONPATH=BESIDE)
    job_id = shared.take_in(content)
    doomed.communicate(timeout=SECONDS)
    assert doomed.returncode == -signal.SIGKILL
    assert (shared.group.job(job_id)["state"], counted(shell)) == (State.RUNNING, [0, 0, 1])
    shared.worker(code=IMPATIENT)
    ended = shared.group.ended(job_id)
    assert (ended["state"], ended["result"]["taken"]) == (State.DONE, ROWS)
    assert counted(shell) == [ROWS, FEET, 4]


def test_what_is_asked_while_redis_is_gone_waits_and_is_done_when_it_is_back(
    shared: Shared, content: bytes, redis_server: RedisServer
) -> None:
    worker = shared.worker()
    redis_server.stop()
    asked = time.monotonic()
    job_id = shared.take_in(content)
    assert time.monotonic() - asked < MUST_ANSWER_WITHIN
    assert shared.group.job(job_id)["state"] == State.QUEUED
    redis_server.start()
    assert shared.group.ended(job_id)["result"]["taken"] == ROWS
    assert (worker.poll(), shared.server.poll()) == (None, None)
