"""Which figures of calibrations may be shown: none that tells of fewer than ten people.

A figure alone is not all that tells: coefficients with somebody's reports and without them differ
by that somebody. So figures are shown only where the people behind them differ, from those behind
every set of figures shown before in the group, in nobody or in ten at least. Somebody who reported
again since counts as different.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Mapping

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.domain.reviews import COUNTING
from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.tables.learned import Calibration
from models.tables.socks import Report

TOO_FEW = "too few people yet"
TOO_LIKE = (
    "too few people yet: fewer than 10 reported since figures of this group were shown last, and "
    "what they reported would show in the difference"
)

_DIGEST_CHARACTERS = 16


def people_of(session: Session, group_id: str) -> dict[str, str]:
    """Return whose reports count in a group, each with a digest of which reports in which version.

    It must read in the same transaction as the evidence itself.
    """
    rows = session.execute(
        select(Report.member_id, Report.id, Report.version)
        .where(Report.group_id == group_id, Report.status.in_(COUNTING))
        .order_by(Report.id)
    )
    reported: defaultdict[str, list[str]] = defaultdict(list)
    for member_id, report_id, version in rows:
        reported[member_id].append(f"{report_id} {version}")
    return {member: _digest(reports) for member, reports in reported.items()}


def may_publish(session: Session, group_id: str, people: Mapping[str, str]) -> bool:
    """Return whether figures that rest on some people may be shown beside those shown before."""
    if not _enough(len(people)):
        return False
    shown = session.scalars(
        select(Calibration.people).where(
            Calibration.group_id == group_id,
            Calibration.published.is_(True),
            Calibration.people.is_not(None),
        )
    )
    return all(_enough(difference(people, before or {})) for before in shown)


def difference(some: Mapping[str, str], others: Mapping[str, str]) -> int:
    """Return how many people are in one of two sets only, or reported otherwise.

    >>> difference({"a": "1", "b": "2", "c": "3"}, {"a": "1", "b": "5"})
    2
    """
    return sum(some.get(one) != others.get(one) for one in {*some, *others})


def why_withheld(row: Calibration) -> str:
    """Return why the figures of a calibration are not shown."""
    return TOO_LIKE if _enough(row.reporters) else TOO_FEW


def _enough(people: int) -> bool:
    return people == 0 or people >= FEWEST_REPORTERS_SHOWN


def _digest(reports: list[str]) -> str:
    return hashlib.sha256("\n".join(reports).encode()).hexdigest()[:_DIGEST_CHARACTERS]
