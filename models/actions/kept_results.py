"""What takes long to work out of a group, kept for whoever asks the same again.

A result is found by a digest of all that it follows from: what is asked, whether exact figures may
be seen, and counts, newest ids and versions of the group's rows, which a few indexes tell. Whatever
could change it changes one of these, so a kept one is never out of date, and nothing has to be
dropped when rows change.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from functools import cache
from importlib.metadata import version
from typing import Any

import orjson
from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from models.actions import design_defaults, test_knits, tracking
from models.actions.actor import Actor
from models.actions.keep_designs import own_design
from models.domain.roles import Action
from models.tables.claim import insert_new
from models.tables.kept import KeptResult
from models.tables.learned import Activation, Calibration
from models.tables.socks import Design, Foot, Report, Review, Size

FORM = 1
"""Raised whenever a result is worked out otherwise, or says something else, from the same rows."""

MOST_OF_A_KIND = 20
"""Results of a kind that a group keeps, the newest."""

Asked = Mapping[str, Any]


def _defaults(session: Session, actor: Actor, asked: Asked) -> dict[str, Any]:
    wishes = design_defaults.Wishes(asked["choose_plain"], asked["allow_jumps"])
    design = own_design(session, actor, asked["design_id"])
    return design_defaults.read_defaults(session, actor, design, wishes)


def _plan(session: Session, actor: Actor, asked: Asked) -> dict[str, Any]:
    design = own_design(session, actor, asked["design_id"])
    return test_knits.read_plan(session, actor, design, asked["socks"])


def _outcomes(session: Session, actor: Actor, asked: Asked) -> dict[str, Any]:
    return tracking.outcomes(session, actor, asked["calibration_id"])


KINDS: dict[str, Callable[[Session, Actor, Asked], dict[str, Any]]] = {
    "defaults": _defaults,
    "plan": _plan,
    "outcomes": _outcomes,
}
"""What is kept, by how it is worked out."""


def worked_out(session: Session, actor: Actor, kind: str, asked: Asked) -> str:
    """Return a result as JSON, worked out now.

    Raises
    ------
    HeeldepthError
        As whatever works it out does.

    """
    return orjson.dumps(KINDS[kind](session, actor, asked)).decode()


def key_of(session: Session, actor: Actor, kind: str, asked: Asked) -> str:
    """Return the digest of all that a result follows from."""
    actor.require(Action.READ_GROUP)
    told = [
        [_version(), FORM, kind, sorted(asked.items())],
        [actor.may(Action.CALIBRATE)],
        *_state(session, actor.group_id, asked.get("design_id")),
    ]
    return hashlib.sha256(orjson.dumps(told, default=str)).hexdigest()


def find(session: Session, actor: Actor, kind: str, key: str) -> str | None:
    """Return what is kept under a key, if anything is."""
    actor.require(Action.READ_GROUP)
    return session.scalar(
        select(KeptResult.body).where(
            KeptResult.group_id == actor.group_id, KeptResult.kind == kind, KeptResult.key == key
        )
    )


def keep(session: Session, actor: Actor, kind: str, key: str, body: str) -> None:
    """Keep a result, and drop the oldest of its kind where there are many."""
    actor.require(Action.READ_GROUP)
    row = {"group_id": actor.group_id, "kind": kind, "key": key, "body": body}
    insert_new(session, KeptResult, [row])
    of_kind = (KeptResult.group_id == actor.group_id, KeptResult.kind == kind)
    newest = select(KeptResult.id).where(*of_kind).order_by(KeptResult.id.desc())
    oldest_kept = session.scalars(newest.offset(MOST_OF_A_KIND - 1).limit(1)).first()
    if oldest_kept is not None:
        session.execute(delete(KeptResult).where(*of_kind, KeptResult.id < oldest_kept))


def forget_results(session: Session, group_ids: list[str]) -> None:
    """Drop all that is kept of some groups."""
    session.execute(delete(KeptResult).where(KeptResult.group_id.in_(group_ids)))


def kept_or_worked_out(session: Session, actor: Actor, kind: str, asked: Asked) -> str:
    """Return a result as JSON that is kept, or else worked out now and kept nowhere."""
    found = find(session, actor, kind, key_of(session, actor, kind, asked))
    return found or worked_out(session, actor, kind, asked)


@cache
def _version() -> str:
    """Return our version, for which a file is read."""
    return version("heeldepth")


def _state(session: Session, group_id: str, design_id: str | None) -> list[list[Any]]:
    """Return what tells that rows of a group are others than before.

    Every new row has a greater id, every change of a report a greater version or a review.
    """
    counted: list[tuple[Any, list[Any]]] = [
        (Report, [func.count(), func.sum(Report.version)]),
        (Foot, [func.count()]),
        (Review, [func.count()]),
        (Activation, [func.count()]),
        (Calibration, [func.count()]),
    ]
    state = [
        list(session.execute(select(func.max(row.id), *more).where(row.group_id == group_id)).one())
        for row, more in counted
    ]
    if design_id is not None:
        mine = (Size.group_id == group_id, Size.design_id == design_id)
        sizes = select(Size.id, Size.version, Size.position, Size.label).where(*mine)
        state += [list(row) for row in session.execute(sizes.order_by(Size.id))]
        named = select(Design.name, Design.version).where(
            Design.group_id == group_id, Design.id == design_id
        )
        state += [list(row) for row in session.execute(named)]
    return state
