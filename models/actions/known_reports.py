"""Which reports of a file the group has already, so that a growing sheet can be taken in again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import select
from sqlalchemy.orm import Session

from models.domain.foot import MEASUREMENT_NAMES
from models.domain.quantities import DECREASES_PER_ROUND
from models.domain.reports import SOCK
from models.tables.bulk import in_parts
from models.tables.socks import Foot, Report

CONTENT = (
    *(getattr(Foot, name) for name in MEASUREMENT_NAMES),
    *(getattr(Report, quantity.name) for quantity in SOCK),
    getattr(Report, DECREASES_PER_ROUND.name),
    Report.knitted_on,
    Report.notes,
    Report.design_id,
    Report.size_id,
)
"""What makes two reports of one reporter the same."""


class KnownReports:
    """The reports a group has, counted by what they say.

    Two socks may be alike in everything, so a row is known only as often as the group has it: of
    three equal rows, two are known where two are stored.
    """

    def __init__(self, session: Session, group_id: str) -> None:
        self._session, self._group_id = session, group_id
        self._left: Counter[tuple[Any, ...]] = Counter()
        self._looked_up: set[str] = set()

    def new(self, members: list[str], content: Iterable[list[Any]]) -> NDArray[np.bool_]:
        """Return which rows, given as columns in the order of `CONTENT`, are not known yet."""
        self._look_up(set(members) - self._looked_up)
        if not self._left:
            return np.ones(len(members), dtype=bool)
        return np.array([self._is_new(row) for row in zip(members, *content, strict=True)], bool)

    def _look_up(self, members: set[str]) -> None:
        """Read what is stored of members, each once: those of a file may be few of many."""
        stored = select(Report.member_id, *CONTENT).join(Foot, Foot.id == Report.foot_id)
        for some in in_parts(members):
            theirs = (Report.group_id == self._group_id, Report.member_id.in_(some))
            self._left.update(map(tuple, self._session.execute(stored.where(*theirs))))
        self._looked_up |= members

    def _is_new(self, row: tuple[Any, ...]) -> bool:
        if not self._left[row]:
            return True
        self._left[row] -= 1
        return False
