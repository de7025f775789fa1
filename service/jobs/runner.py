"""Running one job: begun, heard of while it lasts, and ended where it must not go on."""

from __future__ import annotations

import logging
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import partial
from threading import Event, Thread

from sqlalchemy.exc import DBAPIError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from models.actions import job_runs
from models.domain.errors import Unavailable
from models.domain.jobs import BEAT
from models.tables.engine import Database
from models.tables.refusals import is_busy
from service.apart import Here, Workroom
from service.jobs.doing import do, end
from service.jobs.work import SECONDS_BETWEEN_NOTES, PutBack
from service.logs import jobs_log

SECONDS_UNTIL_SAID_AGAIN = 0.2
"""Whoever writes for long is followed closely: a job must not be taken for lost meanwhile."""

log = logging.getLogger(__name__)


class Runner:
    """Runs jobs of one database; `stopping` is set when this process is to end soon.

    They are done in a workroom where there is one, else in the thread that runs them.
    """

    def __init__(self, database: Database, workroom: Workroom | None = None) -> None:
        self._database, self._workroom = database, workroom or Here(database)
        self._held: dict[str, job_runs.Held] = {}
        self.stopping = Event()

    def run(self, job_id: str) -> str | None:
        """Run a job if it waits, and return the id of one that waited for it to end."""
        with self._database.write.begin() as session:
            held = job_runs.begin(session, job_id)
        if held is None:
            return None
        self._held[held.id] = held
        try:
            with self._logged(held), _heard_of(self._database, held):
                self._do(held)
        finally:
            self._held.pop(held.id, None)
        with self._database.read() as session:
            return job_runs.next_of_its_kind(session, held)

    @contextmanager
    def _logged(self, held: job_runs.Held) -> Iterator[None]:
        """Log that a job was begun, and in which state it was left: ended, or to be begun again."""
        said = {"job": held.id, "kind": held.kind, "tries": held.tries}
        began = time.monotonic()
        jobs_log.info("begun", extra=said)
        try:
            yield
        finally:
            said["seconds"] = round(time.monotonic() - began, 1)
            with suppress(DBAPIError, PoolTimeout), self._database.read() as session:
                said["state"] = job_runs.state_of(session, held)
            jobs_log.info("left", extra=said)

    def _do(self, held: job_runs.Held) -> None:
        watch = _Watch(self._database, held, self.stopping)
        try:
            self._workroom.run(partial(do, held=held), watch)
        except (PutBack, job_runs.Interrupted) as stopped:
            end(self._database, held, stopped)
        except Unavailable:
            if self.stopping.is_set():
                end(self._database, held, PutBack())
                return
            # It may be what ends its workers: once it is found to be lost, its tries are counted.
            said = {"job": held.id, "kind": held.kind}
            log.warning(
                "what worked on a job of kind %s was ended from outside", held.kind, extra=said
            )

    def put_back(self) -> None:
        """Let others begin what is still running here, which then takes no effect any more."""
        for held in list(self._held.values()):
            with self._database.write.begin() as session:
                job_runs.put_back(session, held)


class _Watch:
    """Says whether a job goes on: it may be asked often, and looks at the row now and then.

    Where the database does not answer it goes on until the next look.

    Raises
    ------
    PutBack
        Where this process is to end.
    Interrupted
        Where the job was called off, or somebody else has begun it.

    """

    def __init__(self, database: Database, held: job_runs.Held, stopping: Event) -> None:
        self._database, self._held, self._stopping = database, held, stopping
        self._looked_at = time.monotonic()

    def __call__(self) -> None:
        if self._stopping.is_set():
            raise PutBack
        if time.monotonic() - self._looked_at >= SECONDS_BETWEEN_NOTES:
            self._looked_at = time.monotonic()
            with suppress(OperationalError, PoolTimeout), self._database.read() as session:
                job_runs.require_held(session, self._held)


@contextmanager
def _heard_of(database: Database, held: job_runs.Held) -> Iterator[None]:
    """Say from time to time that the job is being worked on."""
    over = Event()
    thread = Thread(target=_beat, args=(database, held, over), daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def _beat(database: Database, held: job_runs.Held, over: Event) -> None:
    pause = BEAT.total_seconds()
    while not over.wait(pause):
        try:
            with database.jot.begin() as session:
                job_runs.go_on(session, held)
        except job_runs.Interrupted:
            return
        except (DBAPIError, PoolTimeout) as error:
            if not (isinstance(error, DBAPIError) and is_busy(error)):
                log.warning("a job could not say that it goes on: the database does not answer")
            pause = SECONDS_UNTIL_SAID_AGAIN
        else:
            pause = BEAT.total_seconds()
