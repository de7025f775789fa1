"""The queue, and the threads that work on it: huey on memory, on a database, or on Redis."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from huey import Huey, MemoryHuey, PostgresHuey, RedisHuey, SqliteHuey
from huey.consumer import Consumer, Scheduler
from huey.exceptions import ConfigurationError
from sqlalchemy import make_url

from models.actions import job_runs
from models.domain.errors import Fault, Invalid
from models.tables.engine import Database
from service.apart import Workroom
from service.config import DATABASE, IN_PROCESS, PREFIX, Settings
from service.jobs.messages import PlainMessages
from service.jobs.runner import Runner
from service.jobs.work import unless_busy

NAME = "heeldepth"
SECONDS_TO_STOP = 10
_SECONDS_BETWEEN_LOOKS = {IN_PROCESS: 0.1, DATABASE: 1.0}

log = logging.getLogger(__name__)


class Engine:
    """Wakes workers for jobs, and runs them in threads of this process where it is started."""

    def __init__(
        self, database: Database, settings: Settings, workroom: Workroom | None = None
    ) -> None:
        self.queue = _queue(settings)
        self._database, self._settings = database, settings
        self._runner = Runner(database, workroom)
        self._run = self.queue.task(name="run")(self._run_one)
        self.queue.periodic_task(lambda _moment: True, name="look_after")(self.look_after)

    def wake(self, job_id: str) -> None:
        """Have a job run that was committed; what the queue loses is found by `look_after`."""
        try:
            self._run(job_id)
        except Exception as error:  # noqa: BLE001 - each store of queues raises its own
            log.warning("a job was not put into the queue: %s", type(error).__name__)

    def look_after(self) -> None:
        """Put back what has lost its worker, forget what is old, wake what waits unheard."""
        with self._database.read() as session:
            lost = job_runs.anything_lost(session)
        if lost:
            # Where somebody is writing, the next look tidies up.
            with unless_busy(), self._database.jot.begin() as session:
                job_runs.tidy(session)
        if not self.queue.pending_count():
            with self._database.read() as session:
                for job_id in job_runs.waiting(session):
                    self.wake(job_id)

    @contextmanager
    def working(self) -> Iterator[None]:
        """Work on jobs in threads of this process; at the end what runs is ended or put back."""
        consumer = _Threads(
            self.queue,
            workers=self._settings.workers,
            max_delay=_SECONDS_BETWEEN_LOOKS.get(self._settings.jobs, 1.0),
            shutdown_timeout=SECONDS_TO_STOP,
        )
        self._runner.stopping.clear()
        consumer.start()
        try:
            yield
        finally:
            self._runner.stopping.set()
            consumer.stop(graceful=True)
            self._runner.put_back()

    def _run_one(self, job_id: str) -> None:
        with unless_busy():  # then it still waits, and is woken again
            waited = self._runner.run(job_id)
            if waited is not None:
                self.wake(waited)


class _Often(Scheduler):
    """Looks after jobs every ten seconds, the first time at once."""

    periodic_task_seconds = 10


class _Threads(Consumer):
    """Huey's consumer, which leaves signals to the command that runs it."""

    scheduler_class = _Often

    def _set_signal_handlers(self) -> None:
        """Leave the handlers of this process as they are."""


def _queue(settings: Settings) -> Huey:
    """Return the queue of the settings; its URL may hold a password and is not shown."""
    options: dict[str, Any] = {"name": NAME, "results": False, "serializer": PlainMessages()}
    if settings.jobs == IN_PROCESS:
        return MemoryHuey(**options)
    if settings.jobs != DATABASE:
        return _redis(settings.jobs, options)
    url = make_url(settings.database_url)
    if url.get_backend_name() == "sqlite":
        return SqliteHuey(filename=f"{url.database}-jobs", fsync=True, **options)
    dsn = url.set(drivername="postgresql").render_as_string(hide_password=False)
    return PostgresHuey(dsn=dsn, table_prefix=NAME, blocking=False, **options)


def _redis(url: str, options: dict[str, Any]) -> Huey:
    try:
        return RedisHuey(url=url, **options)
    except ConfigurationError as error:
        wanted = "Redis needs its Python package: pip install 'heeldepth[redis]'"
        raise Invalid([Fault(f"{PREFIX}JOBS", url.partition(":")[0], wanted)]) from error
