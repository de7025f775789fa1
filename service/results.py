"""Results that take long: worked out once, away from the threads that answer, and kept.

Whoever asks first has it begun; all who ask the same meanwhile wait for that one. They wait for a
few seconds, and only so many at a time that threads are left for others: whoever does not get it in
time is told to come back. One result of a group is worked out at a time, among all processes.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Mapping
from concurrent.futures import Future
from dataclasses import dataclass
from functools import partial
from threading import BoundedSemaphore, Lock, Thread
from typing import Any

import orjson
from flask import Flask, Response, current_app, render_template, request
from sqlalchemy.exc import SQLAlchemyError

from models.actions import kept_results
from models.actions.actor import Actor
from models.domain.errors import Busy, HeeldepthError
from models.tables.alone import alone
from models.tables.engine import Database
from service.apart import Arithmetic, Heard, Workroom, nothing, politely
from service.logs import where_it_broke
from service.views import answered
from service.work import READING, session

PATIENCE_S = 5.0
"""So long a request waits for a result."""

RETRY_AFTER_S = 2
"""After so long whoever was told to come back may do so."""

LONGEST_S = 120.0
"""So long a result waits for others of its group, and for a process to be worked out in."""

MOST_OF_A_GROUP = 3
MOST_IN_ALL = 8
"""Results that are on their way at the same time; more are refused for a moment."""

log = logging.getLogger(__name__)


class Pending(Exception):
    """It is being worked out: whoever asks may come back in a few seconds."""


@dataclass(frozen=True)
class Wanted:
    """A result, and the state of the group of which it is wanted."""

    actor: Actor
    kind: str
    asked: Mapping[str, Any]
    key: str

    @property
    def place(self) -> tuple[str, str, str]:
        """What tells it from all others."""
        return self.actor.group_id, self.kind, self.key


class Results:
    """The results that one process is working out."""

    def __init__(self, database: Database, workroom: Workroom, threads: int) -> None:
        self._database, self._workroom = database, workroom
        self._waiting = BoundedSemaphore(max(1, threads // 2))
        self._lock = Lock()
        self._begun: dict[tuple[str, str, str], Future[str]] = {}

    def text(self, wanted: Wanted) -> str:
        """Return a result that is not kept yet, as JSON.

        Raises
        ------
        Pending
            Where it takes longer than is waited for.
        Busy
            Where many others are on their way.
        HeeldepthError
            As whatever works it out does.

        """
        coming = self._coming(wanted)
        if not self._waiting.acquire(blocking=False):
            raise Pending
        try:
            return coming.result(PATIENCE_S)
        except TimeoutError:
            raise Pending from None
        finally:
            self._waiting.release()

    def _coming(self, wanted: Wanted) -> Future[str]:
        with self._lock:
            found = self._begun.get(wanted.place)
            if found is not None:
                return found
            of_group = sum(place[0] == wanted.actor.group_id for place in self._begun)
            if of_group >= MOST_OF_A_GROUP or len(self._begun) >= MOST_IN_ALL:
                raise Busy("many results are being worked out just now; try again in a while")
            coming: Future[str] = Future()
            self._begun[wanted.place] = coming
        Thread(target=self._finish, args=(wanted, coming), daemon=True).start()
        return coming

    def _finish(self, wanted: Wanted, coming: Future[str]) -> None:
        try:
            coming.set_result(self._result(wanted))
        except Exception as error:  # noqa: BLE001 - whoever waits gets it
            if not isinstance(error, HeeldepthError):
                name, frames = type(error).__name__, where_it_broke(error)
                log.error("%s on working out %s\n%s", name, wanted.kind, frames)  # noqa: TRY400
            coming.set_exception(error)
        finally:
            with self._lock:
                del self._begun[wanted.place]

    def _result(self, wanted: Wanted) -> str:
        with alone(self._database, f"result {wanted.actor.group_id}", nothing, LONGEST_S):
            with self._database.read() as reading:
                found = kept_results.find(reading, wanted.actor, wanted.kind, wanted.key)
            if found is not None:
                return found
            work = partial(worked_out, actor=wanted.actor, kind=wanted.kind, asked=wanted.asked)
            text = self._worked_out(work)
            self._keep(wanted, text)
            return text

    def _worked_out(self, work: Arithmetic[str]) -> str:
        """Return what comes of work, waiting longer for a process than a request would."""
        until = time.monotonic() + LONGEST_S
        while True:
            try:
                return self._workroom.run(work)
            except Busy:
                if time.monotonic() > until:
                    raise

    def _keep(self, wanted: Wanted, text: str) -> None:
        """Keep a result if the group is still as it was; where it is not kept, it is answered."""
        try:
            with self._database.write.begin() as writing:
                now = kept_results.key_of(writing, wanted.actor, wanted.kind, wanted.asked)
                if now == wanted.key:
                    kept_results.keep(writing, wanted.actor, wanted.kind, wanted.key, text)
        except SQLAlchemyError as error:
            log.warning("a result was not kept: %s", type(error).__name__)


def register(app: Flask, results: Results) -> None:
    """Give an application its results, and say what is answered where one is not there yet."""
    app.extensions["heeldepth_results"] = results
    app.register_error_handler(Pending, _come_back)


def _come_back(_pending: Pending) -> Response:
    told = {"state": "pending", "detail": "it is being worked out; ask again in a few seconds"}
    if request.path.startswith("/v1/"):
        answer = answered(told, 202)
    else:
        answer = Response(render_template("pages/pending.html"), 202)
    answer.headers["Retry-After"] = str(RETRY_AFTER_S)
    return answer


def worked_out(
    database: Database, _heard: Heard, actor: Actor, kind: str, asked: Mapping[str, Any]
) -> str:
    """Return a result as JSON, worked out in this process."""
    politely()
    with database.read() as reading:
        return kept_results.worked_out(reading, actor, kind, asked)


def result_text(actor: Actor, kind: str, **asked: Any) -> str:
    """Return a result of the actor's group as JSON, kept or new.

    Raises
    ------
    Pending, Busy, HeeldepthError
        As `Results.text` does.

    """
    if request.method not in READING:
        # It may hold the lock that keeping the result would wait for.
        return kept_results.kept_or_worked_out(session(), actor, kind, asked)
    key = kept_results.key_of(session(), actor, kind, asked)
    found = kept_results.find(session(), actor, kind, key)
    if found is not None:
        return found
    session().commit()  # nobody holds a connection while it waits
    results: Results = current_app.extensions["heeldepth_results"]
    return results.text(Wanted(actor, kind, asked, key))


def result(actor: Actor, kind: str, **asked: Any) -> dict[str, Any]:
    """Return a result of the actor's group, as `result_text` does."""
    told: dict[str, Any] = orjson.loads(result_text(actor, kind, **asked))
    return told
