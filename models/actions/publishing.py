"""Which figures of calibrations may be shown: none that tells of fewer than ten people.

A figure alone is not all that tells: coefficients with somebody's reports and without them differ
by that somebody. So figures are shown only where the people behind them differ, from those behind
every set of figures shown before in the group, in nobody or in ten at least. Somebody who reported
again since counts as different, and so does who was erased since, for good. That much holds of a
calibration as a whole; its slices are judged one by one (`models.actions.shown_slices`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from operator import itemgetter
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.evidence import Pool
from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.tables.erased import ShownFigures, ShownSlice
from models.tables.learned import Calibration
from models.tables.socks import Report

Figure = Mapping[str, Any]
"""A figure as it is stored: `people` says whose reports it rests on."""

TOO_FEW = "too few people yet"
TOO_LIKE = (
    "too few people yet: fewer than 10 reported since figures of this group were shown last, and "
    "what they reported would show in the difference"
)

_DIGEST_CHARACTERS = 16
_READ_AT_ONCE = 10_000


def people_of(session: Session, pool: Pool) -> dict[str, str]:
    """Return whose reports are in a pool, each with a digest of which reports in which version.

    It must read in the same transaction as the evidence itself.
    """
    rows = session.connection().execute(
        select(Report.member_id, Report.id, Report.version)
        .where(pool.condition)
        .order_by(Report.member_id, Report.id)
        .execution_options(yield_per=_READ_AT_ONCE)
    )
    return {
        member: digest_of([f"{one} {pool.version(one, version)}" for _, one, version in reported])
        for member, reported in groupby(rows, itemgetter(0))
    }


def may_publish(session: Session, group_id: str, people: Mapping[str, str]) -> bool:
    """Return whether figures that rest on some people may be shown beside those shown before."""
    if not enough(len(people)):
        return False
    return all(
        enough(difference(people, before) + erased) for before, erased in _shown(session, group_id)
    )


def difference(some: Mapping[str, str], others: Mapping[str, str]) -> int:
    """Return how many people are in one of two sets only, or reported otherwise.

    >>> difference({"a": "1", "b": "2", "c": "3"}, {"a": "1", "b": "5"})
    2
    """
    return sum(some.get(one) != others.get(one) for one in {*some, *others})


def enough(people: int) -> bool:
    """Return whether so many people may tell two figures apart: nobody, or ten at least."""
    return people == 0 or people >= FEWEST_REPORTERS_SHOWN


def why_withheld(row: Calibration) -> str:
    """Return why the figures of a calibration are not shown."""
    return TOO_LIKE if enough(row.reporters) else TOO_FEW


def keep_shown(session: Session, group_id: str, calibration_ids: Collection[str]) -> None:
    """Keep whom figures rested on that were shown, for calibrations that are about to be erased."""
    shown = select(Calibration.people).where(
        Calibration.id.in_(calibration_ids),
        Calibration.published.is_(True),
        Calibration.people.is_not(None),
    )
    for people in session.scalars(shown):
        session.add(ShownFigures(group_id=group_id, people=people, erased=0))
    session.flush()


def forget_people(session: Session, group_id: str, gone: Collection[str]) -> None:
    """Keep of people who are erased no more than how many of them shown figures rested on."""
    figures = session.scalars(select(ShownFigures).where(ShownFigures.group_id == group_id))
    slices = session.scalars(select(ShownSlice).where(ShownSlice.group_id == group_id))
    for row in (*figures, *slices):
        left = {one: digest for one, digest in row.people.items() if one not in gone}
        row.people, row.erased = left, row.erased + len(row.people) - len(left)
    session.flush()


def people_shown(session: Session, group_id: str) -> Iterator[tuple[Mapping[str, str], int]]:
    """Yield whom figures rested on that were shown and went, and how many of them are erased."""
    for row in session.scalars(select(ShownFigures).where(ShownFigures.group_id == group_id)):
        yield row.people, row.erased


def renewed(some: Mapping[str, str], others: Mapping[str, str], erased: int) -> bool:
    """Return whether the reports of nobody or of ten people at least tell two figures apart.

    `erased` is how many people the second rested on who are in `others` no more.
    """
    new = sum(others.get(one) != said for one, said in some.items())
    gone = sum(some.get(one) != said for one, said in others.items())
    return enough(max(new, gone + erased))


def withdraw(
    shown: Iterable[tuple[Calibration, Sequence[Figure]]],
    calibration_ids: Collection[str],
    gone: Collection[str],
    leave: Callable[[Calibration, Sequence[Figure]], None],
) -> list[Figure]:
    """Take figures with somebody who is erased away, and return all that are shown no more.

    Those of calibrations that are about to be erased are among them. `leave` has a calibration show
    what is left of its figures; a figure is one that has its `people`.
    """
    going: list[Figure] = []
    for row, figures in shown:
        left = [one for one in figures if not one["people"].keys() & gone]
        going += figures if row.id in calibration_ids else [x for x in figures if x not in left]
        if len(left) < len(figures):
            leave(row, left)
    return going


def digest_of(reports: list[str]) -> str:
    """Return a digest of what identifies somebody's reports and their versions."""
    return hashlib.sha256("\n".join(reports).encode()).hexdigest()[:_DIGEST_CHARACTERS]


def _shown(session: Session, group_id: str) -> Iterator[tuple[Mapping[str, str], int]]:
    """Yield whom figures that were shown rest on, and how many of them are erased by now."""
    kept = select(Calibration.people).where(
        Calibration.group_id == group_id,
        Calibration.published.is_(True),
        Calibration.people.is_not(None),
    )
    yield from ((people or {}, 0) for people in session.scalars(kept))
    yield from people_shown(session, group_id)
