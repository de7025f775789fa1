"""The reports that came after a calibration, as columns: as many as there are fit into memory."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.evidence import SAID
from models.actions.streams import READ_AT_ONCE
from models.domain.reviews import COUNTING
from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.learning.evidence import COLUMNS, Column, Evidence
from models.tables.learned import Calibration, Suggestion
from models.tables.socks import Foot, Report

_ABOUT = (Report.member_id, Report.created_at, Suggestion.calibration_id)


class Came(NamedTuple):
    """Reports (n), oldest first: whose, when in seconds, by which calibration's answer, what."""

    member_ids: NDArray[np.bytes_]
    moments: Column
    calibration_ids: NDArray[np.bytes_]
    said: Column

    def only(self, rows: NDArray[np.bool_]) -> Came:
        """Return some of them."""
        return Came._make(column[rows] for column in self)

    def in_tens_of_people(self) -> Came:
        """Return the oldest of them, up to the last one that made the people a multiple of ten."""
        _, first = np.unique(self.member_ids, return_index=True)
        arrivals = np.sort(first)[FEWEST_REPORTERS_SHOWN - 1 :: FEWEST_REPORTERS_SHOWN]
        end = arrivals[-1] + 1 if arrivals.size else 0
        return self.only(np.arange(len(self.moments)) < end)

    @property
    def reporters(self) -> int:
        """How many people's they are."""
        return len(np.unique(self.member_ids))

    def followed(self, calibration_id: str) -> NDArray[np.bool_]:
        """Return which of them followed an answer of a calibration."""
        return np.asarray(self.calibration_ids == calibration_id.encode())

    def evidence(self) -> Evidence:
        """Return what they say, reporters numbered by their ids."""
        _, reporter = np.unique(self.member_ids, return_inverse=True)
        return Evidence(dict(zip(COLUMNS, self.said.T, strict=True)), reporter.astype(np.int64))


def came_after(session: Session, row: Calibration) -> Came:
    """Return the counting reports that a calibration is judged on.

    Those are all since it was made, or since a later one from which fewer than ten people part it.
    """
    query = (
        select(*_ABOUT, *SAID)
        .join(Foot, Foot.id == Report.foot_id)
        .outerjoin(Suggestion, Suggestion.id == Report.suggestion_id)
        .where(
            Report.group_id == row.group_id,
            Report.status.in_(COUNTING),
            Report.created_at > row.created_at,
        )
        .order_by(Report.id)
        .execution_options(yield_per=READ_AT_ONCE)
    )
    # Past the session, which takes longer a row than the database.
    came = _gathered(session.connection().execute(query).partitions())
    start = _start(row.created_at.timestamp(), _later(session, row), came)
    return came.only(came.moments > start)


def _gathered(parts: Iterable[Sequence[Any]]) -> Came:
    none = Came(
        np.empty(0, np.bytes_), np.empty(0), np.empty(0, np.bytes_), np.empty((0, len(COLUMNS)))
    )
    return Came._make(map(np.concatenate, zip(none, *map(_columns, parts), strict=True)))


def _columns(part: Sequence[Any]) -> Came:
    members, moments, calibrations, *said = zip(*part, strict=True)
    return Came(
        np.array(members, np.bytes_),
        np.array([moment.timestamp() for moment in moments]),
        np.array([one or "" for one in calibrations], np.bytes_),
        np.array(said, np.float64).T,
    )


def _later(session: Session, row: Calibration) -> list[float]:
    """Return when the later calibrations of the group were made."""
    query = select(Calibration.created_at).where(
        Calibration.group_id == row.group_id, Calibration.created_at > row.created_at
    )
    made: Iterable[datetime] = session.scalars(query.order_by(Calibration.created_at))
    return [moment.timestamp() for moment in made]


def _start(start: float, later: Sequence[float], came: Came) -> float:
    """Return when to begin, so that ten people lie between this and every later beginning."""
    for end in later:
        between = came.only((came.moments > start) & (came.moments <= end))
        if between.reporters >= FEWEST_REPORTERS_SHOWN:
            break
        start = end
    return start
