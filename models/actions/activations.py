"""Which calibration answers: activating one, and going back to the one before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.turns import take_turns
from models.domain.errors import Conflict, NotFound
from models.domain.roles import Action
from models.domain.texts import required_name
from models.learning import calibration as learning
from models.tables.learned import Activation, Calibration

ACTIVE, WAITING, REPLACED = "active", "waiting", "replaced"

CHOSEN, ROLLED_BACK = "chosen by a designer", "rolled back"
"""Reasons of activations; a text of one's own comes after `CHOSEN`, so it never means the other."""

LONGEST_REASON = 400

_ACTIVE = (
    select(Activation.calibration_id)
    .where(Activation.group_id == bindparam("group_id"))
    .order_by(Activation.id.desc())
    .limit(1)
)

_READY: dict[str, learning.Calibration] = {}
"""Calibrations parsed before, by id: they never change, and parsing costs more than answering."""

_MOST_READY = 64


@dataclass(frozen=True)
class History:
    """All activations of a group, oldest first: calibration ids with the reason of each."""

    steps: Sequence[tuple[str, str | None]]

    @property
    def stack(self) -> list[str]:
        """The calibrations that answered one after the other, rolled back ones taken off."""
        answering: list[str] = []
        for calibration_id, reason in self.steps:
            if reason == ROLLED_BACK:
                answering.pop()
            else:
                answering.append(calibration_id)
        return answering

    @property
    def rolled_back(self) -> set[str]:
        """The calibrations that answered and were taken off, and not chosen again since."""
        return {calibration_id for calibration_id, _ in self.steps} - set(self.stack)

    @property
    def reason(self) -> str | None:
        """Why the active one answers."""
        return self.steps[-1][1] if self.steps else None

    def standing(self, calibration_id: str) -> str:
        """Return whether a calibration is active, was, or never was."""
        if self.steps and self.steps[-1][0] == calibration_id:
            return ACTIVE
        known = any(calibration_id == one for one, _ in self.steps)
        return REPLACED if known else WAITING


def history(session: Session, group_id: str) -> History:
    """Return all activations of a group."""
    rows = session.execute(
        select(Activation.calibration_id, Activation.reason)
        .where(Activation.group_id == group_id)
        .order_by(Activation.id)
    )
    return History([(row.calibration_id, row.reason) for row in rows])


def activate(
    session: Session, actor: Actor, calibration_id: str, reason: str | None = None
) -> Calibration:
    """Make a calibration the one that answers from now on, whatever its verdict was.

    Raises
    ------
    Invalid
        Where the reason cannot be stored.
    NotFound
        Where the group has no such calibration.
    Outdated
        Where an older version of this project made it.

    """
    actor.require(Action.CALIBRATE)
    row = owned(session, actor, calibration_id)
    learning.Calibration.from_json(row.artefact)
    take_turns(session, actor.group_id)
    if active_id(session, actor.group_id) != row.id:
        note = CHOSEN
        if reason is not None:
            note += f": {required_name('reason', reason, LONGEST_REASON)}"
        put_in_charge(session, actor, row.id, note, chosen=True)
    return row


def roll_back(session: Session, actor: Actor) -> Calibration:
    """Let the calibration answer again that answered before the active one; twice goes back two.

    Raises
    ------
    Conflict
        Where none answered before.
    Outdated
        Where an older version of this project made the one before.

    """
    actor.require(Action.CALIBRATE)
    take_turns(session, actor.group_id)
    stack = history(session, actor.group_id).stack
    if len(stack) < 2:
        raise Conflict(
            "no calibration answered before the active one, so there is nothing to go back to; "
            "activate another one"
        )
    row = owned(session, actor, stack[-2])
    learning.Calibration.from_json(row.artefact)
    put_in_charge(session, actor, row.id, ROLLED_BACK, chosen=True)
    return row


def put_in_charge(
    session: Session, actor: Actor, calibration_id: str, reason: str, *, chosen: bool
) -> None:
    """Record that a calibration answers from now on; `chosen` where the actor wanted just this."""
    session.add(
        Activation(
            group_id=actor.group_id,
            calibration_id=calibration_id,
            member_id=actor.member_id if chosen else None,
            reason=reason,
        )
    )
    session.flush()


def active_id(session: Session, group_id: str) -> str | None:
    """Return the id of the calibration that answers, or None where none was activated."""
    found: str | None = session.connection().execute(_ACTIVE, {"group_id": group_id}).scalar()
    return found


def active(session: Session, group_id: str) -> tuple[str | None, learning.Calibration]:
    """Return the calibration that answers in a group, with its id.

    Where none was activated, or an older version of this project made it, geometry answers.
    """
    while (calibration_id := active_id(session, group_id)) is not None:
        ready = _READY.get(calibration_id) or _read(session, calibration_id)
        if ready is not None:  # else it was erased since its id was read, and another answers
            return (None if ready.outdated else calibration_id), ready
    return None, learning.geometry_alone()


def numbered(session: Session, actor: Actor, number: int) -> Calibration:
    """Return a calibration of the actor's group by its number.

    Raises
    ------
    NotFound
        Where there is none.

    """
    mine = select(Calibration).where(Calibration.group_id == actor.group_id)
    row = session.scalar(mine.where(Calibration.number == number))
    if row is None:
        raise NotFound(f"no calibration {number} in this group")
    return row


def owned(session: Session, actor: Actor, calibration_id: str) -> Calibration:
    """Return a calibration of the actor's group.

    Raises
    ------
    NotFound
        Where there is none.

    """
    row = session.scalar(
        select(Calibration).where(
            Calibration.group_id == actor.group_id, Calibration.id == calibration_id
        )
    )
    if row is None:
        raise NotFound("no such calibration")
    return row


def _read(session: Session, calibration_id: str) -> learning.Calibration | None:
    """Return a calibration, ready for the next time as well; None where there is none any more."""
    row = session.get(Calibration, calibration_id)
    if row is None:
        return None
    ready = _READY[calibration_id] = learning.usable(row.artefact)
    if len(_READY) > _MOST_READY:
        _READY.clear()
    return ready
