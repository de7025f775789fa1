"""Work in the background: how far it is, for as long as it lasts, and calling it off.

The page goes by the job's row, so it can be reloaded, left and come back to. Once the work is done
it leads to what came of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import Any

from flask import redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from models.actions import jobs
from models.domain.errors import Conflict
from models.domain.jobs import UNFINISHED, State
from models.domain.roles import Action
from models.tables.jobs import Job
from service.access import actor
from service.jobs.asking import ask
from service.jobs.kinds import kinds_of
from service.pages.frame import Pages
from service.pages.visitors import only_members
from service.work import session

blueprint = Pages("progress", url_prefix="/groups/<hexid:group_id>/work")


def _calibrated(result: Mapping[str, Any]) -> str:
    return url_for(
        "calibration_pages.card",
        group_id=actor().group_id,
        calibration_id=result["calibration_id"],
        done="calibrated",
    )


RESULTS: dict[str, Callable[[Mapping[str, Any]], str]] = {"calibration": _calibrated}
"""Where the result of each kind of work that pages ask for is shown."""


def begun(kind: str, asked: Mapping[str, Any]) -> ResponseReturnValue:
    """Ask for work in the background, and lead to the page that tells how far it is."""
    job = ask(kind, asked)
    return redirect(_address(job), 303)


@blueprint.get("/<hexid:job_id>")
@only_members(Action.READ_OWN)
def page(job_id: str) -> ResponseReturnValue:
    """Tell how far a job is, or lead to what came of it."""
    job = _own(job_id)
    if job.state == State.DONE and job.result is not None:
        return redirect(RESULTS[job.kind](job.result))
    return render_template("pages/progress.html", job=job, goes_on=job.state in UNFINISHED)


@blueprint.post("/<hexid:job_id>/cancellation")
@only_members(Action.READ_OWN)
def cancel(job_id: str) -> ResponseReturnValue:
    """Call a job off; one that ended meanwhile is shown as it ended."""
    job = _own(job_id)
    with suppress(Conflict):
        jobs.call_off(session(), job)
    return redirect(_address(job), 303)


def _address(job: Job) -> str:
    return url_for("progress.page", group_id=job.group_id, job_id=job.id)


def _own(job_id: str) -> Job:
    """Return one of the asker's jobs, of a kind that pages ask for."""
    kinds = kinds_of(actor()) & RESULTS.keys()
    return jobs.own_job(session(), actor(), kinds, job_id)
