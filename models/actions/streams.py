"""Reports out of the database a few at a time, where a group has too many to be in memory."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from models.learning.evidence import Column
from models.tables.socks import Report

READ_AT_ONCE = 10_000

MOST_IN_MEMORY = 200_000
"""Reports that are still worked on all at once: calibrating takes some 3 kB each."""

REPORTS_OF_A_BLOCK = 50_000

WHOSE = 0
"""The column of a chunk that holds each person's place in the order in which people come."""


class Cut(NamedTuple):
    """How many reports there are, in how many blocks, and how many a block has before it is cut."""

    reports: int
    blocks: int
    most: int


def cut(session: Session, condition: ColumnElement[bool]) -> Cut:
    """Return how some reports are worked on: all at once as long as they fit in memory."""
    reports = session.scalar(select(func.count()).select_from(Report).where(condition)) or 0
    if reports <= MOST_IN_MEMORY:
        return Cut(reports, 1, reports + 1)
    return Cut(reports, -(-reports // REPORTS_OF_A_BLOCK), REPORTS_OF_A_BLOCK)


def whole_people(parts: Iterator[Column], most: int) -> Iterator[Column]:
    """Yield rows again in chunks of `most` or somewhat more, cut only between people.

    All rows of one person come one after the other.
    """
    waiting: list[Column] = []
    for part in parts:
        waiting.append(part)
        if sum(map(len, waiting)) >= most:
            rows = np.concatenate(waiting)
            last = int(np.searchsorted(rows[:, WHOSE], rows[-1, WHOSE]))
            if last:
                yield rows[:last]
            waiting = [rows[last:]]
    if waiting:
        yield np.concatenate(waiting)
