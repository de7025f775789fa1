"""What stands behind each size: how many reports, of how many people, and whether they agree."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from models.actions.evidence import evidence_of
from models.actions.target_feet import GroupFeet
from models.domain.reviews import COUNTING
from models.learning.agreement import contradict
from models.learning.calibration import Calibration
from models.learning.default_caveats import SizeStanding, Standing
from models.tables.socks import Report, Size

_LATEST = 300
"""Reports of a size that are asked whether they agree."""


def standings(
    session: Session, own: GroupFeet, sizes: Sequence[Size], calibration: Calibration
) -> list[SizeStanding]:
    """Return what stands behind each of some complete sizes."""
    counted = _named(session, sizes)
    found = []
    for size in sizes:
        named = counted.get(size.id, Standing(0, 0))
        torn = named.people > 0 and named.shown and _torn(session, size, calibration)
        found.append(SizeStanding(named, own.standing(size), torn))
    return found


def _named(session: Session, sizes: Sequence[Size]) -> dict[str, Standing]:
    query = (
        select(Report.size_id, func.count(), func.count(Report.member_id.distinct()))
        .where(
            Report.group_id == sizes[0].group_id,
            Report.size_id.in_([size.id for size in sizes]),
            Report.status.in_(COUNTING),
        )
        .group_by(Report.size_id)
    )
    rows = session.execute(query)
    return {str(size_id): Standing(reports, people) for size_id, reports, people in rows}


def _torn(session: Session, size: Size, calibration: Calibration) -> bool:
    latest = (
        select(Report.id)
        .where(
            Report.group_id == size.group_id,
            Report.size_id == size.id,
            Report.status.in_(COUNTING),
        )
        .order_by(Report.id.desc())
        .limit(_LATEST)
    )
    evidence = evidence_of(session, size.group_id, Report.id.in_(latest))
    return contradict(calibration.posterior, evidence)
