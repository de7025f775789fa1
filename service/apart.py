"""Long arithmetic in a process of its own, so that nobody else's request waits for it.

Threads of one Python take turns: a calibration among them would make every request slower while it
lasts, and could not be stopped. A process has an interpreter to itself, a lower priority, and can
be killed where nobody wants its answer any more.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from contextlib import closing
from multiprocessing import get_all_start_methods, get_context, parent_process
from multiprocessing.connection import Connection
from threading import BoundedSemaphore, Thread
from typing import Any, Protocol, TypeVar

from models.domain.errors import Unavailable
from models.tables.engine import Database

T = TypeVar("T")

Heard = Callable[[], None]
"""Called now and then while something lasts; what it raises ends it."""

Arithmetic = Callable[[Database, Heard], T]
"""A function of a module, or a partial one; it, and what it returns, can be pickled."""

SECONDS_BETWEEN_LOOKS = 0.5
POLITENESS = 10
"""By how much less urgent it is than requests (`nice`)."""

LOADED = (
    "service.jobs.doing",
    "models.learning.ordinal.regression",
    "sklearn.model_selection",
    "scipy.stats",
    "pandas",
    "openpyxl",
)
"""What is loaded once, into a process of which all others are copies."""


def nothing() -> None:
    """Let it go on."""


class Workroom(Protocol):
    """Where long arithmetic is done."""

    def run(self, work: Arithmetic[T], heard: Heard = nothing) -> T:
        """Return what a function of the database returns, unless `heard` raises meanwhile."""


class Here:
    """The thread that asks, which only the work itself can end: for tests, and inside others."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def run(self, work: Arithmetic[T], heard: Heard = nothing) -> T:
        """Return what a function of the database returns."""
        heard()
        return work(self._database, heard)


class Apart:
    """Processes of their own, `most` at once; `begin` is called first in each."""

    def __init__(self, url: str, most: int, begin: Callable[[], None] = nothing) -> None:
        self._url, self._turns, self._begin = url, BoundedSemaphore(most), begin
        # Windows knows only new processes, which load everything themselves.
        forks = "forkserver" in get_all_start_methods()
        self._context: Any = get_context("forkserver" if forks else "spawn")
        if forks:
            self._context.set_forkserver_preload([*LOADED])

    def run(self, work: Arithmetic[T], heard: Heard = nothing) -> T:
        """Return what a function of the database returns; what `heard` raises ends it.

        Raises
        ------
        Unavailable
            Where the process came to its end without an answer.

        """
        while not self._turns.acquire(timeout=SECONDS_BETWEEN_LOOKS):
            heard()
        try:
            return self._answer(work, heard)
        finally:
            self._turns.release()

    def _answer(self, work: Arithmetic[T], heard: Heard) -> T:
        ours, theirs = self._context.Pipe(duplex=False)
        given = (theirs, self._url, self._begin, work)
        process = self._context.Process(target=_work, args=given, daemon=True)
        process.start()
        theirs.close()
        try:
            while not ours.poll(SECONDS_BETWEEN_LOOKS):
                heard()
            answer = _told(ours)
        finally:
            process.kill()
            process.join()
            ours.close()
        if isinstance(answer, Exception):
            raise answer
        return answer  # type: ignore[no-any-return]


def _told(ours: Connection[Any, Any]) -> Any:
    try:
        return ours.recv()
    except EOFError as error:
        raise Unavailable("what worked on it was ended from outside: try again") from error


def _work(
    theirs: Connection[Any, Any], url: str, begin: Callable[[], None], work: Arithmetic[T]
) -> None:
    """Work on it in this process, and send what came of it, or what was raised."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever asked decides what ends
    begin()
    Thread(target=_end_with_parent, daemon=True).start()
    if hasattr(os, "nice"):
        os.nice(POLITENESS)
    with closing(Database(url)) as database:
        try:
            answer: T | Exception = work(database, nothing)
        except Exception as error:  # noqa: BLE001 - whoever asked raises it
            answer = error
    theirs.send(answer)


def _end_with_parent() -> None:
    """End this process where the one that asked was killed: nobody waits for its answer."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
