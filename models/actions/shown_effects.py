"""Which shares of "Did it help?" may be shown, beside those that were shown before.

A share with somebody's report and without it tells that report's score to whoever reads it twice.
So shares are worked out when a group calibrates and kept in its calibration, and a share stays as
it was shown last until ten people's reports on the size are others. Where what was shown last
holds somebody who is erased, it is shown no more, and the next one waits.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import asdict
from datetime import datetime, time
from typing import Any

import numpy as np
from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.adoptions import standing_by_size
from models.actions.publishing import digest_of, people_shown, renewed, withdraw
from models.domain.reviews import COUNTING
from models.learning.helped import just_right
from models.tables.adopted import Adoption
from models.tables.erased import ShownFigures
from models.tables.learned import Calibration
from models.tables.socks import Design, Report

BEFORE, SINCE = "before", "since"

Effect = Mapping[str, Any]
"""A share as it is stored: `size_id`, `adoption_id` and `side` say of what, `people` whose."""

Key = tuple[str, str, str]


def effects_to_show(session: Session, group_id: str) -> list[dict[str, Any]]:
    """Return the shares that a new calibration of a group may show: fresh ones, or as shown last.

    It must be called in the transaction that keeps the calibration.
    """
    shown = [one for _, effects in _kept(session, group_id) for one in effects]
    forgotten = list(people_shown(session, group_id))
    latest = {_key(one): dict(one) for one in shown}
    for fresh in _fresh(session, group_id):
        same_size = [(one["people"], 0) for one in shown if one["size_id"] == fresh["size_id"]]
        if all(renewed(fresh["people"], *one) for one in (*same_size, *forgotten)):
            latest[_key(fresh)] = fresh
    return list(latest.values())


def shown_effects(session: Session, group_id: str) -> dict[Key, Mapping[str, Any]]:
    """Return the shares that are shown in a group, by size, adoption and side.

    The last calibration has them all: each carries on what was shown before.
    """
    query = select(Calibration.diagnostics).where(Calibration.group_id == group_id)
    last = session.scalar(query.order_by(Calibration.number.desc()).limit(1))
    return {_key(one): one["share"] for one in (last or {}).get("effects", [])}


def forget_effects(
    session: Session, group_id: str, calibration_ids: Collection[str], gone: Collection[str]
) -> None:
    """Keep whom shares rested on that are about to be shown no more, and take those away.

    They are the shares of calibrations that are about to be erased, and those with somebody who is.
    """
    going = withdraw(_kept(session, group_id), calibration_ids, gone, _leave)
    kept = [one["people"] for one in going]
    for people in (one for place, one in enumerate(kept) if one not in kept[:place]):
        session.add(ShownFigures(group_id=group_id, people=people, erased=0))
    session.flush()


def _leave(row: Calibration, effects: Sequence[Effect]) -> None:
    row.diagnostics = {**(row.diagnostics or {}), "effects": effects}


def _kept(session: Session, group_id: str) -> Iterator[tuple[Calibration, Sequence[Effect]]]:
    """Yield the calibrations of a group, oldest first, with the shares kept in each."""
    query = select(Calibration).where(Calibration.group_id == group_id)
    for row in session.scalars(query.order_by(Calibration.number)):
        yield row, (row.diagnostics or {}).get("effects", [])


def _fresh(session: Session, group_id: str) -> Iterator[dict[str, Any]]:
    """Yield the shares before and since the last adoption of every size that stands changed."""
    for design in session.scalars(select(Design).where(Design.group_id == group_id)):
        for size_id, made in standing_by_size(session, design).items():
            yield from _of_size(session, group_id, size_id, made)


def _of_size(
    session: Session, group_id: str, size_id: str, made: Sequence[Adoption]
) -> Iterator[dict[str, Any]]:
    columns = (Report.id, Report.version, Report.fit_score, Report.member_id)
    counting = (Report.group_id == group_id, Report.size_id == size_id)
    rows = session.execute(
        select(*columns, Report.knitted_on, Report.created_at)
        .where(*counting, Report.status.in_(COUNTING))
        .order_by(Report.id)
    ).all()
    last = made[-1]
    before = [row for row in rows if not _after(row, last.created_at)]
    if len(made) > 1:
        before = [row for row in before if _after(row, made[-2].created_at)]
    since = [row for row in rows if _after(row, last.created_at)]
    for side, of_side in ((BEFORE, before), (SINCE, since)):
        scores = np.array([row.fit_score for row in of_side], dtype=float)
        share = just_right(scores, np.array([row.member_id for row in of_side], dtype=str))
        if share is not None:
            yield {
                "size_id": size_id,
                "adoption_id": last.id,
                "side": side,
                "people": _people(size_id, of_side),
                "share": {
                    name: value if name == "reports" else round(value, 2)
                    for name, value in asdict(share).items()
                },
            }


def _people(size_id: str, rows: Sequence[Any]) -> dict[str, str]:
    """Return whose reports on a size these are, with a digest of them.

    The size is part of it: what somebody said of one size never looks like what was said of more.
    """
    said: dict[str, list[str]] = {}
    for row in rows:
        said.setdefault(row.member_id, [size_id]).append(f"{row.id} {row.version}")
    return {member_id: digest_of(reports) for member_id, reports in said.items()}


def _after(row: Any, moment: datetime) -> bool:
    """Return whether a sock is of the time after a moment."""
    if row.knitted_on is None:
        return bool(row.created_at > moment)
    return datetime.combine(row.knitted_on, time(), moment.tzinfo) > moment


def _key(effect: Effect) -> Key:
    return effect["size_id"], effect["adoption_id"], effect["side"]
