"""What others do while an erasure is worked out, or done. Nobody here exists."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any

import pytest
from sqlalchemy import event, select, text

from models.tables.people import Member
from models.tables.socks import Report
from service import erasing
from service.jobs.runner import Runner

ASYNC = {"Prefer": "respond-async"}


def reporter(world: Any, name: str = "Alder") -> str:
    """Return the id of a reporter who has not joined, with one report."""
    world.mine.steward.make("/reports", world.report(reporter=name))
    members = world.mine.steward.items("/members")
    return str(next(one["id"] for one in members if one["name"] == name))


@pytest.fixture
def once_worked_out(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[], None]], None]:
    """Return what has something done by somebody else when an erasure was just worked out."""
    prepare = erasing.prepare

    def register(then: Callable[[], None]) -> None:
        def prepared(*given: Any) -> Any:
            found = list(prepare(*given))
            with ThreadPoolExecutor(1) as other:  # a request in this one would share its context
                other.submit(then).result()
            return found

        monkeypatch.setattr(erasing, "prepare", prepared)

    return register


def joining(world: Any, name: str = "Alder") -> Callable[[], None]:
    """Return what has somebody join in a reporter's place."""
    code = world.mine.steward.make("/invitations", {"reporter": name})["code"]

    def join() -> None:
        path = f"/v1/invitations/{code}/acceptance"
        joined = world.app.test_client().post(path, json={"consent_version": 3})
        assert joined.status_code == 201, joined.text

    return join


def require_joined(world: Any, reporter_id: str) -> None:
    """See that somebody is in a place, with the report that was written down for them."""
    with world.database.read() as session:
        place = session.get_one(Member, reporter_id)
        assert place.person_id is not None
        assert session.scalar(select(Report.id).where(Report.member_id == place.id)) is not None


def test_a_reporter_who_joins_while_their_erasure_is_worked_out_is_not_erased(
    world: Any, is_problem: Any, once_worked_out: Any
) -> None:
    alder = reporter(world)
    once_worked_out(joining(world))
    problem = is_problem(world.mine.steward.delete(f"/reporters/{alder}"), 409)
    assert "Alder has joined a moment ago: nothing was erased" in problem["detail"]
    require_joined(world, alder)


def test_the_job_that_was_to_erase_a_reporter_fails_where_they_have_joined(
    world: Any, once_worked_out: Any
) -> None:
    steward, alder = world.mine.steward, reporter(world)
    once_worked_out(joining(world))
    job_id = steward.delete(f"/reporters/{alder}", **ASYNC).json["id"]
    Runner(world.database).run(job_id)
    job = steward.get(f"/jobs/{job_id}").json
    assert (job["state"], job["problem"]["status"]) == ("failed", 409)
    assert "has joined a moment ago" in job["problem"]["detail"]
    require_joined(world, alder)


@pytest.fixture
def always_reporting(
    world: Any, monkeypatch: pytest.MonkeyPatch, once_worked_out: Any
) -> list[str]:
    """Let the groups count as large, and others report until nobody is let in; return what."""
    told: list[str] = []

    def report() -> None:
        if len(told) < erasing.MANY_TRIES:
            told.append(world.mine.steward.make("/reports", world.report())["id"])

    monkeypatch.setattr(erasing, "MOST_AT_ONCE", 0)
    monkeypatch.setattr(erasing, "MANY_TRIES", 5)
    once_worked_out(report)
    return told


def test_where_others_always_report_in_a_large_group_who_waits_is_told_to_ask_for_a_job(
    world: Any, is_problem: Any, always_reporting: list[str]
) -> None:
    steward, alder = world.mine.steward, reporter(world)
    steward.make("/calibrations")
    problem = is_problem(steward.delete(f"/reporters/{alder}"), 409)
    assert "Prefer: respond-async" in problem["detail"]
    assert len(always_reporting) == erasing.TRIES
    assert len(steward.items("/reports")) == 1 + erasing.TRIES


def test_a_job_erases_at_last_where_others_always_report_in_a_large_group(
    world: Any, always_reporting: list[str]
) -> None:
    steward, alder = world.mine.steward, reporter(world)
    steward.make("/calibrations")
    job_id = steward.delete(f"/reporters/{alder}", **ASYNC).json["id"]
    Runner(world.database).run(job_id)
    job = steward.get(f"/jobs/{job_id}").json
    assert (job["state"], job["done"], job["total"]) == ("done", 7, 7)
    assert {one["id"] for one in steward.items("/reports")} == set(always_reporting)


def test_who_cannot_have_a_job_is_erased_at_last_as_well(
    world: Any, always_reporting: list[str]
) -> None:
    who = world.mine.knitter
    who.make("/reports", world.report())
    world.mine.steward.make("/calibrations")
    who.delete("/members/me")
    assert who.delete("/v1/me", **ASYNC).json["reports"] == 1
    assert len(always_reporting) == erasing.MANY_TRIES


@pytest.fixture
def just_before(world: Any) -> Iterator[Callable[[str, Callable[[], Any]], Future[Any]]]:
    """Yield what has somebody else do something before an erasure executes a statement.

    The erasure goes on once that is done, or waits for it.
    """
    with ThreadPoolExecutor(1) as other:
        done: Future[Any] = Future()
        asked: list[tuple[str, Callable[[], Any]]] = []

        def before(_connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
            if asked and statement.startswith(asked[0][0]):
                running = other.submit(asked.pop()[1])
                running.add_done_callback(lambda one: done.set_result(one.result()))
                wait_for(world, running)

        def register(statement: str, then: Callable[[], Any]) -> Future[Any]:
            asked.append((statement, then))
            return done

        event.listen(world.database.engine, "before_cursor_execute", before)
        yield register
        event.remove(world.database.engine, "before_cursor_execute", before)


def wait_for(world: Any, running: Future[Any]) -> None:
    """Wait until something is done, or waits for a lock of PostgreSQL."""
    waiting = text(
        "SELECT count(*) FROM pg_stat_activity"
        " WHERE datname = current_database() AND wait_event_type = 'Lock'"
    )
    until = time.monotonic() + 10
    while not running.done() and time.monotonic() < until:
        with world.database.read() as session:
            if session.scalar(waiting):
                return
        time.sleep(0.01)


@pytest.mark.only_on("postgresql")
def test_who_asks_while_what_answered_is_erased_is_answered_by_what_answers_then(
    world: Any, just_before: Any
) -> None:
    alder = reporter(world)
    knitter = world.mine.knitter
    knitter.make("/reports", world.report())
    world.mine.steward.make("/calibrations")
    asking = just_before(
        "DELETE FROM calibrations", lambda: knitter.post("/suggestions", world.question())
    )
    done = world.mine.steward.delete(f"/reporters/{alder}")
    assert done.status_code == 200, done.text
    answer = asking.result(10)
    assert answer.status_code == 201, answer.text
    assert answer.json["calibration_id"] == done.json["calibrated"][world.mine.steward.group_id]


@pytest.mark.only_on("postgresql")
def test_a_report_cannot_be_reviewed_any_more_while_it_is_erased(
    world: Any, is_problem: Any, just_before: Any
) -> None:
    alder, steward = reporter(world), world.mine.steward
    steward.make("/calibrations")
    [report] = steward.items("/reports")
    where, step = f"/reports/{report['id']}/reviews", {"status": "held", "from": "counted"}
    asking = just_before("DELETE FROM reports", lambda: steward.post(where, step))
    done = steward.delete(f"/reporters/{alder}")
    assert (done.status_code, done.json["reports"]) == (200, 1)
    is_problem(asking.result(10), 412)
