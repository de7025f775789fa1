"""Erasing as a job: oneself, or a reporter who has not joined.

The job of somebody who erases themselves goes with them: from then on it is not there.
"""

from __future__ import annotations

from functools import partial
from typing import Any

from sqlalchemy.orm import Session

from models.actions import leaving
from models.actions.erasing import Erased, Leaving
from service.apart import Here
from service.erasing import Way, erase_now
from service.jobs.work import Work


def erase_oneself(work: Work) -> None:
    """Erase the place of whoever asked, or the account with all places."""
    with work.database.read() as reading:
        whose = leaving.oneself(reading, work.actor, account=work.asked["account"])
    _erase(work, whose)


def erase_reporter(work: Work) -> None:
    """Erase a reporter who has not joined."""
    with work.database.read() as reading:
        whose = leaving.reporter(reading, work.actor, work.asked["reporter_id"])
    _erase(work, whose)


def told(done: Erased) -> dict[str, Any]:
    """Return what went, as it is shown."""
    return {**done.rows, "calibrated": dict(done.calibrations)}


def _erase(work: Work, whose: Leaving) -> None:
    def trying(before: int) -> None:
        """Say how many steps there are: each try works all groups out, and the last one erases."""
        work.out_of((before + 1) * len(whose.places) + 1)
        work.note()

    def ended(session: Session, done: Erased) -> None:
        if work.actor.member_id not in whose.start["members"]:
            work.finish(session, told(done), steps=1)

    here, heard = Here(work.database), partial(work.step, 0)
    way = Way(here, heard, trying, work.step, job=work.held, ended=ended)
    erase_now(work.database, whose, way)
