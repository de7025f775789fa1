"""What somebody wrote into the queue is read as plain data, and nothing else is."""

from __future__ import annotations

import json
import pickle
from pathlib import Path
from typing import Any

import pytest
from huey.registry import Message

from models.tables.engine import Database
from service.config import Settings
from service.jobs.engine import Engine
from service.jobs.messages import PlainMessages
from tests.service.redis_server import RedisServer

JOB = "0123456789abcdef" * 2


class Touches:
    """Makes a file where it is unpickled."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __reduce__(self) -> tuple[Any, tuple[Path]]:
        return Path.touch, (self.path,)


def spread(queue: Any, data: bytes) -> None:
    """Write something into a queue, as whoever has its store can."""
    queue.storage.enqueue(data, 0)


def run_what_is_there(queue: Any) -> list[tuple[str, ...]]:
    """Return what was in a queue for its tasks, as a worker finds it that logs the rest."""
    found = []
    while queue.pending_count():
        try:
            found.append(queue.dequeue().args)
        except (ValueError, UnicodeDecodeError):
            continue
    return found


def test_a_pickle_in_the_queue_runs_nothing_and_holds_nobody_up(
    database: Database, database_url: str, tmp_path: Path
) -> None:
    jobs = Engine(database, Settings(database_url, jobs="database"))
    _try(jobs, tmp_path)


def test_a_pickle_in_redis_runs_nothing(
    database: Database, database_url: str, tmp_path: Path, redis_server: RedisServer
) -> None:
    _try(Engine(database, Settings(database_url, jobs=redis_server.url)), tmp_path)


def _try(jobs: Engine, folder: Path) -> None:
    made, queue = folder / "made", jobs.queue
    try:
        spread(queue, pickle.dumps(Touches(made)))
        jobs.wake(JOB)
        spread(queue, pickle.dumps(Message("1", "service.jobs.engine.run", args=(JOB,), kwargs={})))
        run = run_what_is_there(queue)
    finally:
        queue.storage.close()
    assert run == [(JOB,)], "what we sent is run, which was in between"
    assert not made.exists()


GOOD = {"id": "0" * 36, "name": "service.jobs.engine.run", "jobs": [JOB]}


def test_a_message_comes_back_as_it_was_sent() -> None:
    plain = PlainMessages()
    sent = Message("0" * 36, "service.jobs.engine.run", retries=0, args=(JOB,), kwargs={})
    assert plain.deserialize(plain.serialize(sent)) == sent
    assert json.loads(plain.serialize(sent)) == GOOD


@pytest.mark.parametrize(
    "wrong",
    [
        [],
        None,
        {},
        {**GOOD, "more": 1},
        {**GOOD, "jobs": JOB},
        {**GOOD, "jobs": [JOB, JOB]},
        {**GOOD, "jobs": ["../x"]},
        {**GOOD, "jobs": [1]},
        {**GOOD, "name": "os system"},
        {**GOOD, "id": 7},
    ],
)
def test_what_is_no_message_of_ours_is_refused(wrong: Any) -> None:
    with pytest.raises(ValueError, match="message"):
        PlainMessages().deserialize(json.dumps(wrong).encode())
