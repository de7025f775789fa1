"""The feet that a design's sizes are for, and the sizes as the learning takes them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from models.actions.sizes import numbers_of
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.reviews import COUNTING
from models.domain.sizes import RANGED, SLOW, end_of, gauge_of, policy_of
from models.learning.default_caveats import Standing
from models.learning.evidence import Column
from models.learning.outcomes import SizeHeel
from models.learning.target_feet import (
    FEWEST_OWN,
    Range,
    TargetFeet,
    inside,
    own_feet,
    survey_feet,
)
from models.tables.socks import Foot, Report, Size


@dataclass(frozen=True)
class GroupFeet:
    """All feet of a group (n,): mm by measurement, NaN where one was not taken.

    `member` numbers whose each is, `reports` counts the socks on it that count.
    """

    columns: dict[str, Column]
    member: NDArray[np.int64]
    reports: NDArray[np.int64]

    @classmethod
    def read(cls, session: Session, group_id: str) -> GroupFeet:
        """Return the feet of a group, ordered by content: ids differ between databases."""
        worn = (
            select(Report.foot_id, func.count().label("reports"))
            .where(Report.group_id == group_id, Report.status.in_(COUNTING))
            .group_by(Report.foot_id)
            .subquery()
        )
        query = (
            select(
                Foot.member_id,
                func.coalesce(worn.c.reports, 0),
                *(getattr(Foot, name) for name in MEASUREMENT_NAMES),
            )
            .outerjoin(worn, worn.c.foot_id == Foot.id)
            .where(Foot.group_id == group_id)
        )
        rows = session.connection().execute(query).all()
        values = np.array([row[1:] for row in rows], dtype=float)
        values = values.reshape(len(rows), 1 + len(MEASUREMENT_NAMES))
        _, member = np.unique([row[0] for row in rows], return_inverse=True)
        order = np.lexsort(values.T[::-1])
        columns = dict(zip(MEASUREMENT_NAMES, values[order, 1:].T, strict=True))
        return cls(columns, member[order].astype(np.int64), values[order, 0].astype(np.int64))

    def standing(self, size: Size) -> Standing:
        """Return the reports on feet in a size's range, and whose they are."""
        rows = inside(self.columns, range_of(numbers_of(size))) & (self.reports > 0)
        return Standing(int(self.reports[rows].sum()), len(np.unique(self.member[rows])))

    def target(self, within: Range) -> TargetFeet:
        """Return the feet of a range: the group's own where enough people have some there."""
        survey = survey_feet(within)
        rows = inside(self.columns, within)
        if len(np.unique(self.member[rows])) < FEWEST_OWN:
            return survey
        kept = {name: values[rows] for name, values in self.columns.items()}
        return own_feet(kept, self.member[rows], survey.survey_share)


def heels_of(own: GroupFeet, sizes: Sequence[Size]) -> list[SizeHeel]:
    """Return complete sizes with the feet that each is for."""
    return [_heel(numbers_of(size), own) for size in sizes]


def range_of(size: dict[str, Any]) -> Range:
    """Return the feet that a complete size says it is for."""
    return {name: (size[end_of(name, "low")], size[end_of(name, "high")]) for name in RANGED}


def _heel(size: dict[str, Any], own: GroupFeet) -> SizeHeel:
    return SizeHeel(
        size["label"],
        own.target(range_of(size)),
        size["yarn_weight"],
        gauge_of(size),
        policy_of(size),
        size[SLOW.name],
    )
