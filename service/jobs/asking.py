"""Asking for a job in a request: a row now, a worker once it is committed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import IO, Any

from flask import Response, current_app, request, url_for
from werkzeug.http import parse_dict_header

from models.actions import jobs
from models.actions.actor import Actor
from models.tables.jobs import Job
from service.access import actor
from service.jobs.engine import Engine
from service.jobs.kinds import KINDS
from service.logs import jobs_log
from service.views import answered
from service.work import after_commit, session

ASYNC = "respond-async"

PREFER = {
    "in": "header",
    "name": "Prefer",
    "schema": {"type": "string"},
    "description": f"`{ASYNC}` (RFC 7240): answer 202 with a job at once, and do it afterwards.",
}


def prefers_async() -> bool:
    """Return whether whoever asks would rather have a job than wait (RFC 7240, 4.1)."""
    named = parse_dict_header(request.headers.get("Prefer", ""))
    return any(name.partition(";")[0].strip().lower() == ASYNC for name in named)


def ask(
    kind: str,
    asked: Mapping[str, Any],
    file: IO[bytes] | None = None,
    who: Actor | None = None,
) -> Job:
    """Put a job into the queue; a worker begins it once the request is committed.

    It is asked for by whoever acts in the group of this request, where nobody else is named.
    """
    asking = who or actor()
    asking.require(KINDS[kind].action)
    job = jobs.ask_for(session(), asking, kind, asked, file)
    engine: Engine = current_app.extensions["heeldepth_jobs"]
    after_commit(lambda: engine.wake(job.id))
    said = {"job": job.id, "kind": kind}
    after_commit(lambda: jobs_log.info("asked for", extra=said))
    return job


def accepted(
    kind: str,
    asked: Mapping[str, Any],
    file: IO[bytes] | None = None,
    who: Actor | None = None,
) -> Response:
    """Put a job into the queue, and answer 202 with where it is."""
    job = ask(kind, asked, file, who)
    answer = answered(jobs.described(job), 202)
    answer.headers["Location"] = url_for("jobs.OneJob", group_id=job.group_id, job_id=job.id)
    if prefers_async():
        answer.headers["Preference-Applied"] = ASYNC
    return answer
