"""Whether calibrations still match the reports that they were made from."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.activations import active_id
from models.actions.evidence import Gathered, Pool, gathered
from models.domain.wording import counted
from models.learning.evidence import Evidence
from models.tables.learned import Calibration
from models.tables.people import Group


def unreadable(session: Session) -> Iterator[str]:
    """Yield, in words, every calibration whose stored model is of other reports than its row."""
    query = select(Calibration, Group.name).join(Group, Group.id == Calibration.group_id)
    for row, name in session.execute(
        query.order_by(Calibration.id).execution_options(yield_per=50)
    ):
        if row.artefact.get("fingerprint") != row.fingerprint:
            yield f"{_named(name, row)} holds a model of other reports than it says"


def outdated(session: Session) -> Iterator[str]:
    """Yield, in words, every answering calibration whose reports do not say what they said.

    That is the usual course where some were corrected, held, released or erased since: calibrating
    again mends it.
    """
    for group in session.scalars(select(Group).order_by(Group.name, Group.id)):
        calibration_id = active_id(session, group.id)
        if calibration_id is None:
            continue
        row = session.get_one(Calibration, calibration_id)
        unchanged = _unchanged(row, gathered(session, Pool(group.id)))
        if unchanged.fingerprint() != row.fingerprint:
            yield (
                f"{_named(group.name, row)} rests on {counted(row.reports, 'report')}, "
                f"of which unchanged: {unchanged.reports}; calibrate again"
            )


def _unchanged(row: Calibration, reports: Gathered) -> Evidence:
    as_of = row.created_at
    if row.diagnostics is not None:
        as_of = datetime.fromisoformat(row.diagnostics["as_of"])
    return reports.evidence.only(reports.before(as_of))


def _named(group: str, row: Calibration) -> str:
    return f"calibration {row.number} of {group} ({row.group_id})"
