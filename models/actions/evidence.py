"""The reports of a group as evidence, and whose they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import ColumnElement, Row, and_, or_, select
from sqlalchemy.orm import Session

from models.domain.foot import MEASUREMENT_NAMES
from models.domain.reviews import COUNTING
from models.learning.evidence import COLUMNS, Evidence
from models.learning.folds import Rows
from models.tables.socks import Foot, Report

SAID = tuple(getattr(Foot if name in MEASUREMENT_NAMES else Report, name) for name in COLUMNS)
"""What a report says of its sock and foot, in the order of `COLUMNS`."""

_WHOSE = (Report.id, Report.member_id, Report.updated_at)


@dataclass(frozen=True)
class Pool:
    """Which reports of a group are learned from: those that count.

    With `gone` and `released` the pool is what it will be without some members, and once some held
    reports count; `forgotten` are the calibrations, of any group, that will be gone with them.
    """

    group_id: str
    gone: frozenset[str] = frozenset()
    released: frozenset[str] = frozenset()
    forgotten: frozenset[str] = frozenset()

    @property
    def condition(self) -> ColumnElement[bool]:
        """What is true of the reports of the pool."""
        counts: ColumnElement[bool] = Report.status.in_(COUNTING)
        if self.released:
            counts = or_(counts, Report.id.in_(self.released))
        return and_(Report.group_id == self.group_id, counts, Report.member_id.not_in(self.gone))

    def version(self, report_id: str, version: int) -> int:
        """Return the version that a report of some version has in the pool."""
        return version + (report_id in self.released)


@dataclass(frozen=True)
class Gathered:
    """Evidence, and of each of its rows what the evidence itself does not say.

    `changed_at` is when the report got its present values: when it came in, or was corrected.
    """

    evidence: Evidence
    report_ids: Sequence[str]
    member_ids: Sequence[str]
    changed_at: Sequence[datetime]

    def before(self, moment: datetime) -> Rows:
        """Return the rows (n,) that said the same at a moment."""
        return np.array([changed <= moment for changed in self.changed_at], dtype=bool)

    @property
    def members(self) -> dict[int, str]:
        """The member id of every reporter's number in the evidence."""
        numbers, first = np.unique(self.evidence.reporter, return_index=True)
        return {
            number: self.member_ids[place]
            for number, place in zip(numbers.tolist(), first.tolist(), strict=True)
        }


def evidence_of(session: Session, group_id: str, *only: ColumnElement[bool]) -> Evidence:
    """Return the reports of a group that count as evidence, or `only` some of them."""
    return gathered(session, Pool(group_id), *only).evidence


def gathered(session: Session, pool: Pool, *only: ColumnElement[bool]) -> Gathered:
    """Return the reports of a pool as evidence, or some of them, with whose they are."""
    rows = session.execute(
        select(*_WHOSE, *SAID).join(Foot, Foot.id == Report.foot_id).where(pool.condition, *only)
    ).all()
    evidence, order = _sorted(rows)
    report_ids, member_ids, changed_at = ([row[k] for row in rows] for k in range(len(_WHOSE)))
    return Gathered(
        evidence, _taken(report_ids, order), _taken(member_ids, order), _taken(changed_at, order)
    )


def _sorted(rows: Sequence[Row[Any]]) -> tuple[Evidence, NDArray[np.int64]]:
    plain = [tuple(row) for row in rows]
    members = np.array([row[1] for row in plain], dtype=np.str_)
    values = np.array([row[len(_WHOSE) :] for row in plain], dtype=float)
    values = values.reshape(len(rows), len(COLUMNS))
    _, reporter = np.unique(members, return_inverse=True)
    return Evidence.in_order(dict(zip(COLUMNS, values.T, strict=True)), reporter.astype(np.int64))


def _taken(values: list[Any], order: NDArray[np.int64]) -> list[Any]:
    return [values[place] for place in order.tolist()]
