"""Jobs in a workroom, and what ends them from outside. All rows are invented."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from threading import Thread
from typing import Any

import psycopg
import pytest
from sqlalchemy import update
from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError, ProgrammingError

from models.actions import jobs
from models.domain.errors import Unavailable
from models.domain.jobs import MOST_TRIES, STALE
from models.domain.roles import Action
from models.tables.base import now
from models.tables.jobs import Job
from service.apart import Apart
from service.config import Settings
from service.jobs.engine import Engine
from service.jobs.kinds import KINDS, Kind
from service.jobs.runner import Runner
from service.jobs.work import Work

PATIENCE_S = 60


class Endless:
    """A workroom where work never ends by itself."""

    began = False

    def run(self, _work: Any, heard: Callable[[], None]) -> Any:
        self.began = True
        patience = time.monotonic() + PATIENCE_S
        while time.monotonic() < patience:
            heard()
            time.sleep(0.01)


class Vanishing:
    """A workroom whose processes are ended from outside."""

    def run(self, _work: Any, _heard: Callable[[], None]) -> Any:
        raise Unavailable("invented")


def asked(world: Any) -> str:
    return str(world.mine.steward.post("/exports", {"form": "csv"}).json["id"])


def state(world: Any, job_id: str) -> Any:
    return world.mine.steward.get(f"/jobs/{job_id}").json["state"]


def while_it_runs(world: Any, then: Callable[[Runner, str], None]) -> str:
    """Begin a job that never ends, do something, and return the job's id once it is let go."""
    job_id, room = asked(world), Endless()
    runner = Runner(world.database, room)
    working = Thread(target=runner.run, args=(job_id,))
    working.start()
    while not room.began:
        time.sleep(0.01)
    then(runner, job_id)
    working.join(PATIENCE_S)
    assert not working.is_alive()
    return job_id


def test_a_job_that_never_says_how_far_it_is_can_be_called_off(world: Any) -> None:
    def call_off(_runner: Runner, job_id: str) -> None:
        with world.database.write.begin() as session:
            jobs.call_off(session, session.get_one(Job, job_id))

    assert state(world, while_it_runs(world, call_off)) == "cancelled"


def test_it_is_put_back_where_the_process_stops(world: Any) -> None:
    assert state(world, while_it_runs(world, lambda runner, _: runner.stopping.set())) == "queued"


def test_what_is_ended_from_outside_is_begun_again_and_its_tries_are_counted(
    world: Any, caplog: pytest.LogCaptureFixture
) -> None:
    job_id = asked(world)
    Runner(world.database, Vanishing()).run(job_id)
    assert state(world, job_id) == "running"
    assert "ended from outside" in caplog.text
    with world.database.write.begin() as session:
        session.execute(update(Job).values(heard_at=now() - STALE))
    Engine(world.database, Settings("")).look_after()
    assert state(world, job_id) == "queued"
    Runner(world.database).run(job_id)
    assert state(world, job_id) == "done"
    with world.database.read() as session:
        assert session.get_one(Job, job_id).tries == 2


def coded(code: int) -> DBAPIError:
    """Return an error of SQLite with a code."""
    told = sqlite3.OperationalError("invented")
    told.sqlite_errorcode = code
    return OperationalError("", {}, told)


@pytest.mark.parametrize(
    ("error", "becomes", "at_last"),
    [
        (coded(sqlite3.SQLITE_BUSY_SNAPSHOT), "queued", "queued"),
        (coded(sqlite3.SQLITE_FULL), "queued", 507),
        (coded(sqlite3.SQLITE_IOERR), "failed", 500),
        (OperationalError("", {}, psycopg.errors.LockNotAvailable()), "queued", "queued"),
        (OperationalError("", {}, psycopg.errors.DeadlockDetected()), "queued", 500),
        (OperationalError("", {}, psycopg.errors.AdminShutdown()), "queued", 500),
        (OperationalError("", {}, psycopg.OperationalError("no server")), "queued", 500),
        (OperationalError("", {}, psycopg.errors.DiskFull()), "queued", 507),
        (IntegrityError("", {}, psycopg.errors.ForeignKeyViolation()), "queued", 500),
        (ProgrammingError("", {}, psycopg.errors.UndefinedColumn()), "failed", 500),
    ],
    ids=repr,
)
@pytest.mark.only_on("sqlite")
def test_what_the_database_refused_for_a_while_is_begun_again_but_not_for_ever(
    world: Any, monkeypatch: pytest.MonkeyPatch, error: DBAPIError, becomes: str, at_last: int | str
) -> None:
    def refused(_work: Work) -> None:
        raise error

    monkeypatch.setitem(KINDS, "export", Kind(Action.READ_OWN, refused))
    job_id = asked(world)
    Runner(world.database).run(job_id)
    assert state(world, job_id) == becomes
    for _ in range(1, MOST_TRIES):
        Runner(world.database).run(job_id)
    job = world.mine.steward.get(f"/jobs/{job_id}").json
    assert at_last in (job["state"], (job["problem"] or {}).get("status"))


def test_every_kind_of_job_is_done_by_another_process(world: Any, database_url: str) -> None:
    steward = world.mine.steward
    table = {"data": world.report_table(), "content_type": "text/csv"}
    ways = {"headers": {"Prefer": "respond-async"}}
    asked_for = [
        steward.ask("POST", "/imports", **table, **ways),
        steward.post("/calibrations", Prefer="respond-async"),
        steward.post("/exports", {"form": "xlsx"}),
    ]
    runner = Runner(world.database, Apart(database_url, 1))
    for answer in asked_for:
        runner.run(answer.json["id"])
    done = [steward.get(answer.headers["Location"]).json for answer in asked_for]
    assert [one["state"] for one in done] == ["done"] * 3, done
    assert [one["done"] for one in done] == [2, 3, 1]
    [reporter] = [one for one in steward.items("/members") if not one["joined"]]
    answer = steward.delete(f"/reporters/{reporter['id']}", **ways["headers"])
    runner.run(answer.json["id"])
    assert steward.get(answer.headers["Location"]).json["result"]["reports"] == 1
