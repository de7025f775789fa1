"""The one way in which a report's status changes, and the record of it."""

from __future__ import annotations

from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.domain.errors import Conflict
from models.domain.reviews import STEPS, Status
from models.tables.socks import Report, Review

CORRECTED = "corrected by the reporter or for the reporter"

_AFTER_A_CORRECTION = {
    Status.HELD: Status.COUNTED,
    Status.ACCEPTED: Status.HELD,
    Status.REJECTED: Status.HELD,
}
"""A correction answers a doubt; what a steward decided was about the report as it stood."""


def take_step(
    session: Session, actor: Actor, report: Report, status: Status, text: str | None
) -> Review:
    """Give a report another status, and record who did so and when.

    Raises
    ------
    Conflict
        Where that status cannot follow the one the report has.

    """
    possible = STEPS[Status(report.status)]
    if status not in possible:
        words = ", ".join(sorted(possible))
        raise Conflict(f"a {report.status} report cannot become {status}; it can become {words}")
    report.status = status.value
    review = Review(
        group_id=report.group_id,
        report_id=report.id,
        member_id=actor.member_id,
        status=status.value,
        text=text,
    )
    session.add(review)
    session.flush()
    return review


def after_correction(session: Session, actor: Actor, report: Report) -> None:
    """Give a corrected report the status that follows: a held one counts again."""
    status = _AFTER_A_CORRECTION.get(Status(report.status))
    if status is not None:
        take_step(session, actor, report, status, CORRECTED)
