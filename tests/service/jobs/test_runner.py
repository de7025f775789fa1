"""Workers that die, are told to stop, come too late, or meet each other. All rows are invented."""

from __future__ import annotations

import errno
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Event
from typing import Any

import pytest
from huey import storage
from sqlalchemy import select, update
from sqlalchemy.exc import OperationalError

from models.actions import job_runs, jobs
from models.actions.actor import Actor
from models.actions.turns import take_turns
from models.domain.errors import Invalid
from models.domain.jobs import MOST_TRIES, STALE
from models.domain.roles import Action, Role
from models.tables.base import now
from models.tables.jobs import Job
from models.tables.people import Member
from models.tables.refusals import is_busy
from models.tables.socks import Design
from service.config import Settings
from service.jobs import runner
from service.jobs.engine import Engine
from service.jobs.kinds import KINDS, Kind
from service.jobs.runner import Runner
from service.jobs.work import Work


class Shop:
    """A group whose steward asks for jobs of an invented kind, each of which makes one design."""

    def __init__(self, database: Any, planted: Any) -> None:
        self.database, self.planted = database, planted
        self.actor = Actor(planted.group_id, Role.STEWARD, planted.member_id, "Ottoline")
        self.meanwhile: Callable[[Work], None] = lambda _work: None

    def make(self, work: Work) -> None:
        work.out_of(2)
        work.step()
        with self.database.write() as session:
            name = f"Invented {work.held.id} {work.held.tries}"
            session.add(Design(group_id=work.held.group_id, name=name))
            session.flush()
            if session.bind.dialect.name == "postgresql":
                self.meanwhile(work)  # SQLite has one writer at a time
            work.finish(session, {"made": 1})
            session.commit()

    def ask(self, kind: str = "making") -> str:
        with self.database.write.begin() as session:
            return jobs.ask_for(session, self.actor, kind, {}).id

    def job(self, job_id: str) -> Job:
        with self.database.read() as session:
            return session.get_one(Job, job_id)

    def designs(self) -> list[str]:
        with self.database.read() as session:
            return list(session.scalars(select(Design.name)))

    def change(self, job_id: str, **values: Any) -> None:
        with self.database.write.begin() as session:
            session.execute(update(Job).where(Job.id == job_id).values(**values))

    def finish_late(self, held: job_runs.Held) -> None:
        with self.database.write.begin() as session:
            session.add(Design(group_id=held.group_id, name="Invented late"))
            job_runs.finish(session, held, {}, 1)

    def call_off(self, job_id: str) -> None:
        with self.database.write.begin() as session:
            jobs.call_off(session, session.get_one(Job, job_id))


@pytest.fixture
def shop(database: Any, plant: Any, monkeypatch: pytest.MonkeyPatch) -> Shop:
    with database.write.begin() as session:
        planted = plant(session, "Invented group")
        session.execute(update(Member).values(role="steward"))
    made = Shop(database, planted)
    monkeypatch.setitem(KINDS, "making", Kind(Action.READ_OWN, made.make))
    return made


def test_a_job_is_done_once_however_often_it_is_woken(shop) -> None:
    job_id, mine = shop.ask(), Runner(shop.database)
    for _ in range(3):
        assert mine.run(job_id) is None
    assert mine.run("0" * 32) is None
    assert len(shop.designs()) == 1
    job = shop.job(job_id)
    assert (job.state, job.tries, job.result, job.done) == ("done", 1, {"made": 1}, 1)


@pytest.mark.only_on("postgresql")
def test_a_worker_does_not_wait_long_for_what_is_written_in_a_group(shop) -> None:
    job_id = shop.ask()
    with shop.database.write.begin() as session:
        take_turns(session, shop.actor.group_id)
        began = time.monotonic()
        with pytest.raises(OperationalError) as refused:
            Runner(shop.database).run(job_id)
        assert time.monotonic() - began < 5
    assert is_busy(refused.value)
    assert shop.job(job_id).state == "queued"


def test_of_many_workers_at_once_one_does_a_job(shop) -> None:
    job_ids = [shop.ask() for _ in range(4)]
    workers = [Runner(shop.database) for _ in range(4)]
    for _ in job_ids:  # one of a kind runs at a time, the others wait
        with ThreadPoolExecutor(4) as pool:
            list(pool.map(lambda each: [each.run(job_id) for job_id in job_ids], workers))
    assert [shop.job(job_id).state for job_id in job_ids] == ["done"] * 4
    assert len(shop.designs()) == 4


def test_a_group_has_one_job_of_a_kind_running_and_wakes_the_next_at_its_end(
    shop, monkeypatch
) -> None:
    first, second = shop.ask(), shop.ask()
    seen = []

    def looking(work: Work) -> None:
        seen.append(Runner(shop.database).run(second))
        seen.append(shop.job(second).state)
        shop.make(work)

    monkeypatch.setitem(KINDS, "making", Kind(Action.READ_OWN, looking))
    assert Runner(shop.database).run(first) == second
    assert seen == [None, "queued"]
    monkeypatch.setitem(KINDS, "making", Kind(Action.READ_OWN, shop.make))
    assert Runner(shop.database).run(second) is None
    assert shop.job(second).state == "done"


def test_a_job_whose_worker_died_is_begun_again_and_done_once(shop) -> None:
    job_id = shop.ask()
    with shop.database.write.begin() as session:
        dead = job_runs.begin(session, job_id)
    engine = Engine(shop.database, Settings(""))
    engine.look_after()
    assert shop.job(job_id).state == "running"  # heard of a moment ago
    shop.change(job_id, heard_at=now() - STALE)
    engine.look_after()
    assert shop.job(job_id).state == "queued"
    assert engine.queue.pending_count() == 1
    engine.queue.execute(engine.queue.dequeue())
    assert (shop.job(job_id).state, shop.job(job_id).tries) == ("done", 2)
    with pytest.raises(job_runs.Interrupted):  # it was not dead after all
        shop.finish_late(dead)
    assert len(shop.designs()) == 1


def test_a_worker_thought_dead_changes_nothing_once_another_has_begun(shop) -> None:
    job_id = shop.ask()
    with shop.database.write.begin() as session:
        slow = job_runs.begin(session, job_id)
    shop.change(job_id, state="queued")
    with shop.database.write.begin() as session:
        fresh = job_runs.begin(session, job_id)
    assert (slow.tries, fresh.tries) == (1, 2)
    for late in (job_runs.give_up, job_runs.put_back):
        with shop.database.write.begin() as session:
            late(session, slow)
    with shop.database.write.begin() as session:
        job_runs.fail(session, slow, {"status": 500})
    assert shop.job(job_id).state == "running"


def test_a_job_that_ends_its_workers_is_given_up(shop) -> None:
    job_id = shop.ask()
    engine = Engine(shop.database, Settings(""))
    for tried in range(1, MOST_TRIES + 1):
        with shop.database.write.begin() as session:
            assert job_runs.begin(session, job_id).tries == tried
        shop.change(job_id, heard_at=now() - STALE)
        engine.look_after()
    job = shop.job(job_id)
    assert (job.state, job.problem["status"]) == ("failed", 500)
    assert "begun 5 times" in job.problem["detail"]


def test_a_lost_job_that_was_called_off_is_cancelled(shop) -> None:
    job_id = shop.ask()
    with shop.database.write.begin() as session:
        job_runs.begin(session, job_id)
    shop.call_off(job_id)
    shop.change(job_id, heard_at=now() - STALE)
    Engine(shop.database, Settings("")).look_after()
    assert shop.job(job_id).state == "cancelled"


def test_what_is_called_off_half_way_leaves_nothing(shop, monkeypatch) -> None:
    def half(work: Work) -> None:
        shop.call_off(work.held.id)
        shop.make(work)

    monkeypatch.setitem(KINDS, "making", Kind(Action.READ_OWN, half))
    job_id = shop.ask()
    Runner(shop.database).run(job_id)
    assert (shop.job(job_id).state, shop.designs()) == ("cancelled", [])


@pytest.mark.only_on("postgresql")
def test_what_is_called_off_while_it_writes_leaves_nothing(shop) -> None:
    shop.meanwhile = lambda work: shop.call_off(work.held.id)
    job_id = shop.ask()
    Runner(shop.database).run(job_id)
    assert (shop.job(job_id).state, shop.designs()) == ("cancelled", [])


def test_what_runs_when_the_process_stops_is_put_back_and_done_by_another(shop) -> None:
    job_id, stopping = shop.ask(), Runner(shop.database)
    stopping.stopping.set()
    stopping.run(job_id)
    assert (shop.job(job_id).state, shop.designs()) == ("queued", [])
    Runner(shop.database).run(job_id)
    assert (shop.job(job_id).state, len(shop.designs())) == ("done", 1)


def test_what_does_not_stop_in_time_is_put_back_and_takes_no_effect(shop, monkeypatch) -> None:
    mine = Runner(shop.database)

    def deaf(work: Work) -> None:
        mine.put_back()  # as the engine does when its patience is at its end
        shop.finish_late(work.held)

    monkeypatch.setitem(KINDS, "making", Kind(Action.READ_OWN, deaf))
    job_id = shop.ask()
    mine.run(job_id)
    assert (shop.job(job_id).state, shop.designs()) == ("queued", [])


def test_what_breaks_is_a_failed_job_and_its_message_is_not_logged(
    shop, monkeypatch, caplog
) -> None:
    def broken(_work: Work) -> None:
        raise ZeroDivisionError(shop.actor.group_id)

    monkeypatch.setitem(KINDS, "making", Kind(Action.READ_OWN, broken))
    job_id = shop.ask()
    Runner(shop.database).run(job_id)
    assert (shop.job(job_id).state, shop.job(job_id).problem["status"]) == ("failed", 500)
    assert "ZeroDivisionError in a job of kind making" in caplog.text
    assert shop.actor.group_id not in caplog.text


def test_a_kind_that_a_newer_version_has_is_left_to_its_workers(shop) -> None:
    job_id = shop.ask()
    with shop.database.write.begin() as session:
        session.execute(update(Job).values(kind="newer"))
    Runner(shop.database).run(job_id)
    assert shop.job(job_id).state == "queued"


def test_a_worker_says_that_it_is_still_at_it(shop, monkeypatch) -> None:
    monkeypatch.setattr(runner, "BEAT", STALE / 600)
    heard = []

    def long(work: Work) -> None:
        for _ in range(2):
            heard.append(shop.job(work.held.id).heard_at)
            time.sleep(0.4)
        shop.make(work)

    monkeypatch.setitem(KINDS, "making", Kind(Action.READ_OWN, long))
    Runner(shop.database).run(shop.ask())
    assert heard[0] < heard[1]


def test_progress_can_be_watched(shop, monkeypatch) -> None:
    seen = []

    def slow(work: Work) -> None:
        work.out_of(10)
        work.step(4)
        work.note()
        job = shop.job(work.held.id)
        seen.append((job.state, job.done, job.total))
        shop.make(work)

    monkeypatch.setitem(KINDS, "making", Kind(Action.READ_OWN, slow))
    Runner(shop.database).run(shop.ask())
    assert seen == [("running", 4, 10)]


@pytest.mark.parametrize("where", ["in-process", "database"])
def test_threads_of_an_engine_do_what_another_engine_has_woken(
    shop, database_url: str, where: str
) -> None:
    settings = Settings(database_url, jobs=where)
    worker = Engine(shop.database, settings)
    asking = worker if where == "in-process" else Engine(shop.database, settings)
    try:
        before = shop.ask()  # committed, and then nobody was woken
        with worker.working():
            job_ids = [before, *(shop.ask() for _ in range(3))]
            for job_id in job_ids[1:]:
                asking.wake(job_id)
            waited = Event()
            for _ in range(200):
                if all(shop.job(job_id).state == "done" for job_id in job_ids):
                    break
                waited.wait(0.1)
        assert [shop.job(job_id).state for job_id in job_ids] == ["done"] * 4
        assert len(shop.designs()) == 4
    finally:
        for each in {worker, asking}:
            each.queue.storage.close()


def test_a_queue_that_cannot_be_reached_loses_no_job(shop, monkeypatch, caplog) -> None:
    engine = Engine(shop.database, Settings(""))

    def unreachable(*_: object) -> None:
        raise ConnectionError(job_id)

    job_id = shop.ask()
    with monkeypatch.context() as patched:
        patched.setattr(engine.queue.storage, "enqueue", unreachable)
        engine.wake(job_id)
    assert "not put into the queue: ConnectionError" in caplog.text
    assert job_id not in caplog.text
    engine.look_after()
    engine.queue.execute(engine.queue.dequeue())
    assert shop.job(job_id).state == "done"


def test_redis_without_its_package_is_refused_without_showing_the_url(shop, monkeypatch) -> None:
    monkeypatch.setattr(storage, "Redis", None)  # what huey has where it cannot be imported
    settings = replace(Settings(""), jobs="redis://:secret@127.0.0.1:1/0")
    with pytest.raises(Invalid, match=r"heeldepth\[redis\]") as refused:
        Engine(shop.database, settings)
    assert "secret" not in str(refused.value)


def test_a_job_whose_files_find_no_room_is_begun_again_and_in_the_end_says_so(
    shop, monkeypatch
) -> None:
    def full(_work: Work) -> None:
        raise OSError(errno.ENOSPC, "invented")

    monkeypatch.setitem(KINDS, "making", Kind(Action.READ_OWN, full))
    job_id = shop.ask()
    for _ in range(MOST_TRIES - 1):
        Runner(shop.database).run(job_id)
        assert shop.job(job_id).state == "queued"
    Runner(shop.database).run(job_id)
    job = shop.job(job_id)
    assert (job.state, job.problem["status"]) == ("failed", 507)
