"""Erasing as a job: watched, called off, and gone with whoever asked. All rows are invented."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import func, select, update

from models.actions import job_runs, jobs
from models.tables.jobs import Job
from models.tables.people import Member, Person
from models.tables.socks import Report
from service import erasing
from service.jobs import work
from service.jobs.runner import Runner

ASYNC = {"Prefer": "respond-async"}


def reporter(world: Any, name: str = "Alder") -> str:
    """Return the id of a reporter who has not joined, with one report."""
    world.mine.steward.make("/reports", world.report(reporter=name))
    members = world.mine.steward.items("/members")
    return str(next(one["id"] for one in members if one["name"] == name))


def counted(world: Any, table: Any) -> int:
    with world.database.read() as session:
        return session.scalar(select(func.count()).select_from(table)) or 0


def test_a_steward_erases_a_reporter_as_a_job_that_says_what_went(world: Any) -> None:
    steward, alder = world.mine.steward, reporter(world)
    calibration = steward.make("/calibrations")
    answer = steward.delete(f"/reporters/{alder}", **ASYNC)
    assert (answer.status_code, answer.json["kind"]) == (202, "reporter erasure")
    assert counted(world, Report) == 1
    world.work()
    done = steward.get(answer.headers["Location"]).json
    assert (done["state"], done["done"], done["total"], done["problem"]) == ("done", 2, 2, None)
    went = {"feet": 1, "reports": 1, "suggestions": 0, "calibrations": 1, "calibrated": {}}
    assert done["result"] == went
    assert counted(world, Report) == 0
    assert steward.get(f"/calibrations/{calibration['id']}").status_code == 404


def test_the_job_of_who_erases_their_place_goes_with_them(world: Any) -> None:
    who = world.mine.knitter
    who.make("/reports", world.report())
    answer = who.delete(f"/v1/me/places/{who.member_id}", **ASYNC)
    assert (answer.status_code, answer.headers["Preference-Applied"]) == (202, "respond-async")
    waiting = who.get(answer.headers["Location"]).json
    assert (waiting["kind"], waiting["state"]) == ("erasure", "queued")
    world.work()
    assert who.get(answer.headers["Location"]).status_code == 404
    assert who.get("/v1/groups").json["items"] == []
    assert (counted(world, Report), counted(world, Job)) == (0, 0)


def test_the_job_of_who_erases_their_account_goes_with_them(world: Any) -> None:
    who = world.mine.knitter
    who.make("/reports", world.report())
    people = counted(world, Person)
    answer = who.delete("/v1/me", **ASYNC)
    assert answer.status_code == 202
    world.work()
    assert who.get(answer.headers["Location"]).status_code == 401
    assert (counted(world, Report), counted(world, Person)) == (0, people - 1)


def test_who_is_in_no_group_any_more_is_erased_at_once(world: Any) -> None:
    who = world.mine.knitter
    who.make("/reports", world.report())
    who.delete("/members/me")
    done = who.delete("/v1/me", **ASYNC)
    assert (done.status_code, done.json["reports"]) == (200, 1)
    assert "Preference-Applied" not in done.headers


@pytest.mark.parametrize("how", ["called off", "begun again"])
def test_a_job_that_must_not_take_effect_erases_nothing(
    world: Any, how: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    steward, alder = world.mine.steward, reporter(world)
    job_id = steward.delete(f"/reporters/{alder}", **ASYNC).json["id"]

    def meanwhile() -> None:
        with world.database.write.begin() as session:
            if how == "called off":
                jobs.call_off(session, session.get_one(Job, job_id))
            else:
                session.execute(update(Job).values(tries=Job.tries + 1))

    prepare = erasing.prepare

    def prepared(*given: Any) -> Any:
        found = list(prepare(*given))
        meanwhile()
        return found

    monkeypatch.setattr(erasing, "prepare", prepared)
    Runner(world.database).run(job_id)
    state = "cancelled" if how == "called off" else "running"
    assert steward.get(f"/jobs/{job_id}").json["state"] == state
    assert counted(world, Report) == 1
    with world.database.read() as session:
        assert session.get(Member, alder) is not None


def test_other_jobs_of_the_group_begin_afresh_and_this_one_ends(world: Any) -> None:
    steward, alder = world.mine.steward, reporter(world)
    other = steward.post("/exports", {"form": "csv"}).json["id"]
    job_id = steward.delete(f"/reporters/{alder}", **ASYNC).json["id"]
    with world.database.write.begin() as session:
        running = update(Job).where(Job.id == other)
        session.execute(running.values(state="running", heard_at=func.current_timestamp()))
    Runner(world.database).run(job_id)
    states = [steward.get(f"/jobs/{one}").json["state"] for one in (other, job_id)]
    assert states == ["queued", "done"]


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, int]]:
    """Return what is said of how far a job is, as it is said: each step, and out of how many."""
    said: list[tuple[int, int]] = []
    go_on = job_runs.go_on

    def heard(session: Any, held: Any, **progress: Any) -> None:
        if progress and (progress["done"], progress["total"]) not in said:
            said.append((progress["done"], progress["total"]))
        go_on(session, held, **progress)

    monkeypatch.setattr(job_runs, "go_on", heard)
    monkeypatch.setattr(work, "SECONDS_BETWEEN_NOTES", 0)
    return said


def test_each_group_that_is_worked_out_is_a_step_and_so_it_is_when_it_is_done_again(
    world: Any, told: list[tuple[int, int]], monkeypatch: pytest.MonkeyPatch
) -> None:
    who = world.mine.knitter
    body = {"name": "Invented second group", "steward": "Wren", "consent_version": 3}
    who.make("/v1/groups", body)
    who.make("/reports", world.report())
    prepare, once = erasing.prepare, iter([world.mine.steward])

    def interrupted(*given: Any) -> Any:
        yield from prepare(*given)
        for steward in once:
            steward.make("/reports", world.report())

    monkeypatch.setattr(erasing, "prepare", interrupted)
    Runner(world.database).run(who.delete("/v1/me", **ASYNC).json["id"])
    assert who.get("/v1/me").status_code == 401
    assert told == [(0, 3), (1, 3), (2, 3), (2, 5), (3, 5), (4, 5)]


def test_who_calls_off_their_own_erasure_stays_with_everything(world: Any) -> None:
    who = world.mine.knitter
    who.make("/reports", world.report())
    job = who.delete(f"/v1/me/places/{who.member_id}", **ASYNC).headers["Location"]
    assert who.post(f"{job}/cancellation").status_code == 200
    world.work()
    assert who.get(job).json["state"] == "cancelled"
    assert (len(who.items("/reports")), counted(world, Report)) == (1, 1)
