"""The wider pool as a group sees it: other groups' summaries, without names and never its own."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.domain.roles import Action
from models.learning.pooling import pooled
from models.learning.summary import FORM, Summary
from models.learning.wider import Wider
from models.tables.learned import Calibration
from models.tables.shared import Contribution, PoolUse, TakenSummary

HERE, TAKEN_IN = "here", "taken in"


@dataclass(frozen=True)
class Entry:
    """A summary that a group may begin with, and where it comes from.

    `id` is None for groups of this installation: nothing but their summary is told.
    """

    id: str | None
    source: str
    since: datetime
    document: Mapping[str, Any]

    def to_json(self) -> dict[str, Any]:
        """Return it as it is listed."""
        return {
            "id": self.id,
            "source": self.source,
            "since": self.since,
            "summary": self.document,
        }


def origin_of(group_id: str) -> str:
    """Return the name under which a group's summaries go about; the group's id is not in it."""
    return hashlib.sha256(f"origin of {group_id}".encode()).hexdigest()[:32]


def beginning_of(session: Session, group_id: str, forgotten: Collection[str] = ()) -> Wider | None:
    """Return what the group's next calibration begins with, None for geometry alone.

    What rests on `forgotten` calibrations is not among it. It must read in the same transaction as
    the evidence.
    """
    if used_since(session, group_id) is None:
        return None
    found = entries(session, group_id, forgotten)
    return pooled([Summary.from_json(one.document) for one in found])


def read_pool(session: Session, actor: Actor) -> dict[str, Any]:
    """Return whether the group uses the wider pool, how large it is, and what the group shares."""
    actor.require(Action.READ_GROUP)
    since = used_since(session, actor.group_id)
    found = entries(session, actor.group_id)
    return {
        "used": since is not None,
        "used_since": since,
        "groups": len(found),
        "people": sum(one.document["people"] for one in found),
        "contribution": _contribution(session, actor.group_id),
    }


def read_summaries(session: Session, actor: Actor) -> list[dict[str, Any]]:
    """Return every summary that the group may begin with, as it can be taken in elsewhere."""
    actor.require(Action.SHARE)
    return [one.to_json() for one in entries(session, actor.group_id)]


def described(taken: TakenSummary) -> dict[str, Any]:
    """Return a summary that was taken in, as it is listed."""
    return _taken_in(taken).to_json()


def used_since(session: Session, group_id: str) -> datetime | None:
    """Return since when a group uses the wider pool, None where it does not."""
    return session.scalar(select(PoolUse.created_at).where(PoolUse.group_id == group_id))


def entries(session: Session, group_id: str, forgotten: Collection[str] = ()) -> list[Entry]:
    """Return the summaries that a group may begin with, each origin once.

    Its own is never among them, however it came back; what another version made is left out; a
    group of this installation speaks for itself where its summary was also taken in. Summaries of
    `forgotten` calibrations are left out.
    """
    of_others = select(Contribution.created_at, Contribution.summary).where(
        Contribution.group_id != group_id, Contribution.calibration_id.not_in(forgotten)
    )
    taken = select(TakenSummary).where(TakenSummary.group_id == group_id)
    found = [
        *(Entry(None, HERE, row.created_at, row.summary) for row in session.execute(of_others)),
        *map(_taken_in, session.scalars(taken)),
    ]
    return list(_once_each(found, {origin_of(group_id)}))


def _taken_in(row: TakenSummary) -> Entry:
    return Entry(row.id, TAKEN_IN, row.created_at, row.summary)


def _once_each(found: Sequence[Entry], known: set[str]) -> Iterator[Entry]:
    """Yield entries of this version whose origin is not known yet, in the order of origins."""
    for entry in sorted(found, key=lambda one: (one.document["origin"], one.source != HERE)):
        origin = entry.document["origin"]
        if entry.document["form"] == FORM and origin not in known:
            known.add(origin)
            yield entry


def _contribution(session: Session, group_id: str) -> dict[str, Any] | None:
    row = session.execute(
        select(Calibration.number, Contribution.created_at, Contribution.summary)
        .join(Calibration, Calibration.id == Contribution.calibration_id)
        .where(Contribution.group_id == group_id)
    ).first()
    return None if row is None else dict(row._mapping)
