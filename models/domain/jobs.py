"""Work that is done after it was asked for: its states, and how long things may take."""

from __future__ import annotations

from datetime import timedelta
from enum import StrEnum


class State(StrEnum):
    """What has become of a job."""

    QUEUED = "queued"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"


UNFINISHED = frozenset({State.QUEUED, State.RUNNING})

BEAT = timedelta(seconds=5)
"""How often a worker says that it is still at a job."""

STALE = timedelta(seconds=30)
"""A running job not heard of for so long has lost its worker, and is begun again."""

MOST_TRIES = 5
"""A job that was begun so often and never ended is given up: it may be what kills its workers."""

MOST_UNFINISHED = 20
"""How many jobs somebody may have waiting in a group."""

KEPT = timedelta(hours=24)
"""How long a job and its file are kept after its end, as idempotency keys are."""
