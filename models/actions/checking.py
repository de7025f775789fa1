"""Whether calibrations still match the reports that they were made from."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

import numpy as np
from sqlalchemy import Row, and_, select
from sqlalchemy.orm import Session

from models.actions.activations import active_id
from models.actions.evidence import SAID, Pool, evidence_of
from models.actions.streams import cut
from models.domain.wording import counted
from models.learning import calibration as learning
from models.learning.fingerprints import fingerprint
from models.learning.spilled import Spilled
from models.tables.learned import Calibration
from models.tables.people import Group
from models.tables.socks import Foot, Report

LOOKED_AT = (
    "whether every calibration has the model that its row names; the reports of those that answer"
)
LEFT_OUT = "the reports of calibrations that do not answer, and the figures within a model"
"""Other calibrations would each take a pass over all reports, and mostly differ rightly: reports
are corrected and held as time goes by."""

_ABOUT = (Calibration.number, Calibration.group_id, Calibration.fingerprint)
_MODEL = Calibration.artefact["fingerprint"].as_string().label("model")
_AS_OF = Calibration.diagnostics["as_of"].as_string().label("as_of")


def unreadable(session: Session) -> Iterator[str]:
    """Yield, in words, every calibration whose stored model is of other reports than its row."""
    query = select(*_ABOUT, _MODEL, Group.name).join(Group, Group.id == Calibration.group_id)
    for row in session.execute(query.order_by(Calibration.id)):
        if row.model != row.fingerprint:
            yield f"{_named(row.name, row)} holds a model of other reports than it says"


def outdated(session: Session) -> Iterator[str]:
    """Yield, in words, every answering calibration whose reports do not say what they said.

    That is the usual course where some were corrected, held, released or erased since: calibrating
    again mends it.
    """
    for group in session.scalars(select(Group).order_by(Group.name, Group.id)):
        calibration_id = active_id(session, group.id)
        if calibration_id is None:
            continue
        about = (*_ABOUT, _AS_OF, Calibration.created_at, Calibration.reports, Calibration.artefact)
        row = session.execute(select(*about).where(Calibration.id == calibration_id)).one()
        unchanged, of_rows = _unchanged(session, row)
        wider = learning.usable(row.artefact).wider
        if learning.fingerprint_of(of_rows, wider) != row.fingerprint:
            yield (
                f"{_named(group.name, row)} rests on {counted(row.reports, 'report')}, "
                f"of which unchanged: {unchanged}; calibrate again"
            )


def _unchanged(session: Session, row: Row[Any]) -> tuple[int, str]:
    """Return how many reports say what they said to a calibration, and their fingerprint.

    Those of a large group are never in memory together.
    """
    as_of = row.created_at if row.as_of is None else datetime.fromisoformat(row.as_of)
    said_so = Report.updated_at <= as_of
    condition = and_(Pool(row.group_id).condition, said_so)
    reports, blocks, most = cut(session, condition)
    if blocks == 1:
        return reports, evidence_of(session, row.group_id, said_so).fingerprint()
    query = select(*SAID).join(Foot, Foot.id == Report.foot_id).where(condition)
    parts = session.connection().execute(query.execution_options(yield_per=most)).partitions()
    chunks = (np.array([tuple(one) for one in part], np.float64) for part in parts)
    return reports, fingerprint(Spilled.of(chunks))


def _named(group: str, row: Row[Any]) -> str:
    return f"calibration {row.number} of {group} ({row.group_id})"
