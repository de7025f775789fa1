"""Recording, reading, correcting and taking back reports."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Select, bindparam, delete, select
from sqlalchemy.orm import Session

from models.actions import designs, feet
from models.actions.actor import Actor
from models.actions.consents import consents
from models.actions.paging import Page, page
from models.actions.reporters import reporter
from models.actions.review_steps import after_correction
from models.actions.reviewed import HELD_BECAUSE
from models.domain.errors import Fault, Invalid, NotFound, require_all
from models.domain.gauge import Gauge
from models.domain.quantities import DECREASES_PER_ROUND, GAUGE, USUAL_DECREASES_PER_ROUND
from models.domain.reports import AFTERWARDS, SOCK
from models.domain.roles import Action
from models.domain.schedule import Schedule
from models.domain.sections import COUNT_NAMES
from models.tables.base import now
from models.tables.bulk import insert_row
from models.tables.learned import Suggestion
from models.tables.people import Member
from models.tables.socks import Design, Foot, Report, Review, Size

PLAIN_FIELDS = (
    *(quantity.name for quantity in SOCK),
    DECREASES_PER_ROUND.name,
    "knitted_on",
    *(quantity.name for quantity in AFTERWARDS),
    "notes",
)
"""What is stored as given; everything else of a report is a reference."""

SAID = ("foot_id", *(quantity.name for quantity in SOCK), DECREASES_PER_ROUND.name, "knitted_on")
"""What a report says that may be doubted; a change of anything else is no correction."""

REPORT_COLUMNS = (
    Report.id,
    Report.version,
    Member.name.label("reporter"),
    Report.foot_id,
    Report.suggestion_id,
    Design.name.label("design"),
    Size.label.label("size"),
    *(getattr(Report, name) for name in PLAIN_FIELDS),
    Report.status,
    HELD_BECAUSE,
    Report.created_at,
    Report.updated_at,
)


def record_report(session: Session, actor: Actor, given: Mapping[str, Any]) -> str:
    """Record a finished sock on a foot, which is named (`foot_id`) or given (`foot`); give its id.

    Raises
    ------
    Invalid
        Where something in it cannot be; every fault names its field.

    """
    said = {name: given[name] for name in PLAIN_FIELDS if name in given}
    design, size = given.get("design"), given.get("size")
    require_all(lambda: designs.require_design(design, size), lambda: _require_possible(said))
    foot_id, owner = _foot(session, actor, given)
    design_id, size_id = designs.named(session, actor, design, size)
    suggestion_id = _suggestion(session, actor, given.get("suggestion_id"))
    row = {
        "group_id": actor.group_id,
        "member_id": owner,
        "foot_id": foot_id,
        "design_id": design_id,
        "size_id": size_id,
        "suggestion_id": suggestion_id,
        "consent_version": consents(session, [owner])[owner],
        **said,
    }
    return insert_row(session, Report, row)


def amend_report(
    session: Session, actor: Actor, report: Report, given: Mapping[str, Any]
) -> Report:
    """Change the given fields of a report; a held one that is corrected counts again.

    Raises
    ------
    Invalid
        Where the report would become impossible; nothing is then changed.

    """
    if "foot_id" in given:
        _require_foot(session, actor, given["foot_id"], report.member_id)
    corrected = any(given[name] != getattr(report, name) for name in SAID if name in given)
    for name, value in given.items():
        setattr(report, name, value)
    _require_possible({name: getattr(report, name) for name in PLAIN_FIELDS})
    report.updated_at = now()
    if corrected:
        after_correction(session, actor, report)
    session.flush()
    return report


def delete_report(session: Session, report: Report) -> None:
    """Take a report back for good, with all that was said of it."""
    session.execute(
        delete(Review).where(Review.group_id == report.group_id, Review.report_id == report.id)
    )
    session.delete(report)
    session.flush()


def own_report(session: Session, actor: Actor, report_id: str) -> Report:
    """Return a report that is the actor's own to take back.

    Raises
    ------
    NotFound
        Where there is none such.

    """
    actor.require(Action.RECORD)
    return _one(session, *actor.sees(Report), Report.id == report_id)


def report_to_correct(session: Session, actor: Actor, report_id: str) -> Report:
    """Return a report that the actor may change: an own one, or for a steward a held one.

    Raises
    ------
    NotFound
        Where there is none such.

    """
    actor.require(Action.RECORD)
    return _one(session, *actor.sees_report(), Report.id == report_id)


def read_report(session: Session, actor: Actor, report_id: str) -> Mapping[str, Any]:
    """Return one report.

    Raises
    ------
    NotFound
        Where there is none that the actor may see.

    """
    query = described().where(*actor.sees_report(), Report.id == report_id)
    row = session.execute(query).mappings().first()
    if row is None:
        raise NotFound("no such report")
    return dict(row)


def as_read(session: Session, report_id: str) -> Mapping[str, Any]:
    """Return a report that the actor has just written, whether or not it can be seen after that."""
    return dict(session.connection().execute(_ONE, {"id": report_id}).mappings().one())


def list_reports(
    session: Session,
    actor: Actor,
    *,
    after: str | None,
    limit: int,
    newest_first: bool = False,
    own: bool | None = None,
) -> Page:
    """Return a page of the reports that the actor sees, oldest first unless asked.

    With `own` of those of the actor alone, without it of those written down for others.
    """
    actor.require(Action.READ_OWN)
    query = described().where(*actor.sees(Report))
    if own is not None:
        mine = Report.member_id == actor.member_id
        query = query.where(mine if own else ~mine)
    return page(session, query, Report.id, after=after, limit=limit, newest_first=newest_first)


def described(columns: Sequence[Any] = REPORT_COLUMNS) -> Select[Any]:
    """Return the query of columns of reports; the caller says which the actor may see."""
    return (
        select(*columns)
        .join(Member, Member.id == Report.member_id)
        .outerjoin(Design, Design.id == Report.design_id)
        .outerjoin(Size, Size.id == Report.size_id)
    )


_ONE = described().where(Report.id == bindparam("id"))
"""One report; a statement that is made once costs a third of one made for each time."""


def _one(session: Session, *conditions: ColumnElement[bool]) -> Report:
    found = session.scalar(select(Report).where(*conditions))
    if found is None:
        raise NotFound("no such report")
    return found


def _foot(session: Session, actor: Actor, given: Mapping[str, Any]) -> tuple[str, str]:
    """Return the ids of the foot and of the member whose foot it is."""
    foot_id, measurements = feet.named_or_given(given)
    if measurements is not None:
        whose = {**measurements, "reporter": given.get("reporter")}
        return feet.record_foot(session, actor, whose, under="foot")
    owner = reporter(session, actor, given.get("reporter"))
    return _require_foot(session, actor, str(foot_id), owner), owner


def _require_foot(session: Session, actor: Actor, foot_id: str, owner: str) -> str:
    """Return the id of a foot that must be the reporter's own."""
    known = session.scalar(
        select(Foot.id).where(
            Foot.group_id == actor.group_id, Foot.id == foot_id, Foot.member_id == owner
        )
    )
    if known is None:
        raise Invalid([Fault("foot_id", foot_id, "it must be a foot of the reporter")])
    return known


def _suggestion(session: Session, actor: Actor, suggestion_id: str | None) -> str | None:
    if suggestion_id is None:
        return None
    query = select(Suggestion.id).where(*actor.sees(Suggestion), Suggestion.id == suggestion_id)
    known = session.scalar(query)
    if known is None:
        raise Invalid([Fault("suggestion_id", suggestion_id, "no such suggestion in this group")])
    return known


def _require_possible(said: Mapping[str, Any]) -> None:
    """Raise `Invalid` where the sock cannot have been knitted as reported."""
    counts = {name: said[name] for name in COUNT_NAMES}
    per_round = said.get(DECREASES_PER_ROUND.name) or USUAL_DECREASES_PER_ROUND
    require_all(
        lambda: Schedule(said["heel_stitches"], counts, per_round),
        lambda: Gauge(*(said[quantity.name] for quantity in GAUGE)),
        lambda: feet.not_in_future("knitted_on", said.get("knitted_on")),
    )
