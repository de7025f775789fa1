"""Jobs: how far they are, what came of them, and calling them off."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response

from models.actions import jobs
from models.actions.job_files import kept_pieces
from models.domain.errors import NotFound
from models.domain.jobs import State
from models.domain.roles import Action
from models.tables.jobs import Job as Row
from service.access import actor, needs
from service.idempotency import DOCUMENTED
from service.job_answers import Job, Jobs
from service.job_schemas import NewCancellation
from service.jobs.kinds import kinds_of
from service.schemas import Paging
from service.uploads import CSV, JSONL, XLSX, answered_with
from service.views import GroupView, Resources, answered, listed, streamed
from service.work import session

blueprint = Resources("jobs", "Work in the background.")

MEDIA_TYPES = {"csv": CSV, "xlsx": XLSX, "jsonl": JSONL}

_JOB = "/groups/<hexid:group_id>/jobs/<hexid:job_id>"


@blueprint.route("/groups/<hexid:group_id>/jobs")
class AllJobs(GroupView):
    """Somebody's jobs in a group."""

    @needs(Action.READ_OWN)
    @blueprint.arguments(Paging(), location="query")
    @blueprint.response(200, Jobs)
    def get(self, paging: Mapping[str, Any], group_id: str) -> Response:
        """List your jobs that have not ended, or ended in the last day, oldest first.

        With a narrow token only those that it could have asked for.
        """
        return listed(
            jobs.list_jobs(
                session(),
                actor(),
                kinds_of(actor()),
                after=paging["cursor"],
                limit=paging["limit"],
            )
        )


@blueprint.route(_JOB)
class OneJob(GroupView):
    """One job."""

    @needs(Action.READ_OWN)
    @blueprint.response(200, Job)
    def get(self, group_id: str, job_id: str) -> Response:
        """Read how far a job of yours is, and what came of it."""
        return answered(jobs.described(_own(job_id)))


@blueprint.route(f"{_JOB}/cancellation")
class Cancellation(GroupView):
    """Calling a job off."""

    @needs(Action.READ_OWN)
    @blueprint.arguments(NewCancellation(), required=False)
    @blueprint.response(200, Job)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, _given: Mapping[str, Any], group_id: str, job_id: str) -> Response:
        """Cancel a job of yours; one that is running stops soon and leaves nothing behind."""
        job = _own(job_id)
        jobs.call_off(session(), job)
        return answered(jobs.described(job))


@blueprint.route(f"{_JOB}/file")
class JobFile(GroupView):
    """The file that a job has made."""

    @needs(Action.READ_OWN)
    @blueprint.response(200)
    @blueprint.doc(responses=answered_with(CSV, XLSX, JSONL))
    def get(self, group_id: str, job_id: str) -> Response:
        """Read the file that an export has made.

        One that holds reports of reporters who have not joined is read as it was asked for: by a
        steward, with a token of scope steward.
        """
        job = _own(job_id)
        if job.state != State.DONE.value or not job.result or "form" not in job.result:
            raise NotFound("this job has no file, or not yet")
        if job.result["of_others"]:
            actor().require(Action.RECORD_FOR_OTHERS)
        form = job.result["form"]
        return streamed(
            lambda reading: kept_pieces(reading, job_id), MEDIA_TYPES[form], f"reports.{form}"
        )


def _own(job_id: str) -> Row:
    return jobs.own_job(session(), actor(), kinds_of(actor()), job_id)
