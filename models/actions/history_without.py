"""The record of what answered, without calibrations that are erased."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from models.actions.activations import ROLLED_BACK
from models.tables.learned import Activation

Step = tuple[int, str, str | None]
"""An activation: its id, its calibration and the reason."""


@dataclass
class Rewritten:
    """What is left of a history: steps that go, and rollbacks that now lead elsewhere.

    `stack` are the calibrations that answered one after the other, rolled back ones taken off.
    """

    stack: list[str] = field(default_factory=list)
    dropped: set[int] = field(default_factory=set)
    moved: dict[int, str] = field(default_factory=dict)


def without(steps: Sequence[Step], gone: Collection[str]) -> Rewritten:
    """Return a history, oldest step first, without some calibrations.

    A rollback of one that goes goes as well; another leads to what is left of what it led to, and
    where nothing is left, neither it nor what it took off ever answered.
    """
    found, whole = Rewritten(), []
    for number, calibration_id, reason in steps:
        if reason != ROLLED_BACK:
            whole.append((number, calibration_id))
            _push(found, number, calibration_id, gone)
            continue
        taken_off, was = whole.pop()
        if was in gone:
            found.dropped.add(number)
            continue
        found.stack.pop()
        if not found.stack:
            found.dropped |= {taken_off, number}
        elif found.stack[-1] != calibration_id:
            found.moved[number] = found.stack[-1]
    return found


def history_without(session: Session, group_id: str, gone: Collection[str]) -> Rewritten:
    """Return what the history of a group will be without some calibrations."""
    rows = session.execute(
        select(Activation.id, Activation.calibration_id, Activation.reason)
        .where(Activation.group_id == group_id)
        .order_by(Activation.id)
    )
    return without([(row.id, row.calibration_id, row.reason) for row in rows], gone)


def rewrite(session: Session, history: Rewritten) -> None:
    """Make the history of a group what it will be; steps of calibrations that go, go with them."""
    session.execute(delete(Activation).where(Activation.id.in_(history.dropped)))
    for number, calibration_id in history.moved.items():
        moved = update(Activation).where(Activation.id == number)
        session.execute(moved.values(calibration_id=calibration_id))


def _push(found: Rewritten, number: int, calibration_id: str, gone: Collection[str]) -> None:
    if calibration_id in gone:
        found.dropped.add(number)
    else:
        found.stack.append(calibration_id)
