"""Recording and reading feet."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlalchemy import Select, delete, select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.paging import Page, page
from models.actions.reporters import reporter
from models.domain import foot as registry
from models.domain.errors import Conflict, Fault, Invalid, NotFound
from models.domain.plausibility import require_plausible
from models.domain.roles import Action
from models.tables import socks
from models.tables.bulk import insert_row
from models.tables.people import Member

FOOT_COLUMNS = (
    socks.Foot.id,
    Member.name.label("reporter"),
    socks.Foot.label,
    *(getattr(socks.Foot, name) for name in registry.MEASUREMENT_NAMES),
    socks.Foot.measured_on,
    socks.Foot.created_at,
)


def record_foot(
    session: Session, actor: Actor, given: Mapping[str, Any], under: str = ""
) -> tuple[str, str]:
    """Record a foot as measured on a day; feet never change, measure again instead.

    Returns the ids of the foot and of the member whose it is. `under` is put before the fields of
    faults, where the foot came as part of something.

    Raises
    ------
    Invalid
        Where the foot is implausible or was measured in the future.

    """
    member_id = reporter(session, actor, given.get("reporter"))
    taken = measurements_of(given)
    require_plausible(taken, under)
    not_in_future("measured_on", given.get("measured_on"))
    row = {
        "group_id": actor.group_id,
        "member_id": member_id,
        "label": given.get("label"),
        "measured_on": given.get("measured_on"),
        **taken,
    }
    return insert_row(session, socks.Foot, row), member_id


def list_feet(session: Session, actor: Actor, *, after: str | None, limit: int) -> Page:
    """Return a page of the feet that the actor may see, oldest first."""
    actor.require(Action.READ_OWN)
    return page(session, _visible(actor), socks.Foot.id, after=after, limit=limit)


def read_foot(session: Session, actor: Actor, foot_id: str) -> Mapping[str, Any]:
    """Return one foot.

    Raises
    ------
    NotFound
        Where there is none that the actor may see.

    """
    row = session.execute(_visible(actor).where(socks.Foot.id == foot_id)).mappings().first()
    if row is None:
        raise NotFound("no such foot")
    return dict(row)


def delete_foot(session: Session, actor: Actor, foot_id: str) -> None:
    """Delete a foot that no report is about.

    Raises
    ------
    NotFound
        Where there is none that the actor may see.
    Conflict
        Where a report is about it: take the report back first.

    """
    actor.require(Action.RECORD)
    read_foot(session, actor, foot_id)
    in_group = socks.Report.group_id == actor.group_id
    if session.scalar(select(socks.Report.id).where(in_group, socks.Report.foot_id == foot_id)):
        raise Conflict("a report is about this foot; take the report back first")
    session.execute(
        delete(socks.Foot).where(socks.Foot.group_id == actor.group_id, socks.Foot.id == foot_id)
    )


def measurements_of(row: Mapping[str, Any]) -> dict[str, float]:
    """Return the measurements that were taken, of a row or of what was given."""
    found = {name: row.get(name) for name in registry.MEASUREMENT_NAMES}
    return {name: value for name, value in found.items() if value is not None}


def not_in_future(field: str, day: date | None) -> None:
    """Raise `Invalid` for a day after today (by the clock here, a day's grace for time zones)."""
    if day is not None and (day - date.today()).days > 1:
        raise Invalid([Fault(field, day.isoformat(), "it must not be in the future")])


def named_or_given(given: Mapping[str, Any]) -> tuple[str | None, Mapping[str, Any] | None]:
    """Return the foot of something that is on a foot: its id, or else its measurements.

    Raises
    ------
    Invalid
        Where there is neither, or both.

    """
    foot_id, measurements = given.get("foot_id"), given.get("foot")
    if (foot_id is None) == (measurements is None):
        raise Invalid([Fault("foot", measurements, "give either foot or foot_id")])
    return foot_id, measurements


def _visible(actor: Actor) -> Select[Any]:
    return (
        select(*FOOT_COLUMNS)
        .join(Member, Member.id == socks.Foot.member_id)
        .where(*actor.sees(socks.Foot))
    )
