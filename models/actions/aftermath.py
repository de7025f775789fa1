"""What a group has learned, without members who are erased: worked out first, then made so.

Working it out only reads, so nobody who writes has to wait for the calibration. Whatever changed
meanwhile is found when it is made so, and then it is worked out again.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from models.actions import publishing, shown_slices
from models.actions.activations import active_id
from models.actions.actor import operator
from models.actions.calibrations import keep_calibration
from models.actions.evidence import Pool
from models.actions.history_without import history_without, rewrite
from models.actions.judging import Judged, judged
from models.actions.screening import release, released
from models.actions.shown_effects import forget_effects
from models.learning import calibration as learning
from models.tables.learned import Calibration
from models.tables.socks import Report


@dataclass(frozen=True)
class Aftermath:
    """A group as it will be.

    `calibrations` are those that rest on somebody who goes; `answering` is the one that answered,
    `left_over` the one that answers once they are gone. `people` are those the pool is of, and
    `refit` its calibration, None where nothing needs to be learned anew.
    """

    pool: Pool
    calibrations: frozenset[str]
    answering: str | None
    left_over: str | None
    people: dict[str, str]
    refit: Judged | None


def foreseen(
    session: Session, group_id: str, gone: frozenset[str], forgotten: frozenset[str]
) -> Aftermath:
    """Return what becomes of a group once some of its members are erased; nothing is changed.

    `forgotten` are the calibrations of all groups that go with them.
    """
    calibrations = resting_on(session, group_id, gone)
    answering = active_id(session, group_id)
    stack = history_without(session, group_id, calibrations).stack
    left_over = stack[-1] if stack else None
    posterior = _calibration(session, left_over).posterior
    pool = Pool(group_id, gone, released(session, group_id, gone, posterior), forgotten)
    people = publishing.people_of(session, pool)
    anew = answering in calibrations and bool(people)
    refit = judged(session, pool, left_over) if anew else None
    return Aftermath(pool, calibrations, answering, left_over, people, refit)


def holds(session: Session, aftermath: Aftermath) -> bool:
    """Return whether the group is still as it was when its aftermath was worked out."""
    pool = aftermath.pool
    return (
        resting_on(session, pool.group_id, pool.gone) == aftermath.calibrations
        and active_id(session, pool.group_id) == aftermath.answering
        and publishing.people_of(session, pool) == aftermath.people
    )


def forget_learned(session: Session, aftermath: Aftermath) -> None:
    """Take what must not stay out of a group's record, while its rows are still there."""
    group_id, gone = aftermath.pool.group_id, aftermath.pool.gone
    publishing.keep_shown(session, group_id, aftermath.calibrations)
    shown_slices.forget(session, group_id, aftermath.calibrations, gone)
    forget_effects(session, group_id, aftermath.calibrations, gone)
    publishing.forget_people(session, group_id, gone)
    rewrite(session, history_without(session, group_id, aftermath.calibrations))


def learn_anew(session: Session, aftermath: Aftermath) -> str | None:
    """Release what was held only for what is erased, and keep the calibration of what is left.

    Returns its id, or None where there is none.
    """
    group_id = aftermath.pool.group_id
    release(session, group_id, aftermath.pool.released)
    if aftermath.refit is None:
        return None
    return keep_calibration(session, operator(group_id), aftermath.refit).id


def resting_on(session: Session, group_id: str, gone: frozenset[str]) -> frozenset[str]:
    """Return the calibrations of a group that learned from somebody.

    Older ones do not say from whom; those that could have are among them.
    """
    first = _first_report(session, group_id, gone)
    rows = session.execute(
        select(Calibration.id, Calibration.people, Calibration.created_at).where(
            Calibration.group_id == group_id
        )
    )
    return frozenset(
        row.id
        for row in rows
        if (gone & row.people.keys() if row.people else first and row.created_at >= first)
    )


def _calibration(session: Session, calibration_id: str | None) -> learning.Calibration:
    if calibration_id is None:
        return learning.geometry_alone()
    return learning.usable(session.get_one(Calibration, calibration_id).artefact)


def _first_report(session: Session, group_id: str, gone: frozenset[str]) -> datetime | None:
    query = select(func.min(Report.created_at)).where(Report.group_id == group_id)
    found: datetime | None = session.scalar(query.where(Report.member_id.in_(gone)))
    return found
