"""Whether the service is alive, and whether it is ready."""

from __future__ import annotations

from flask import Response
from sqlalchemy.exc import SQLAlchemyError

from migrations.revisions import head, is_newer, lacks_steps, revision_of
from service import answers
from service.access import open_to_everybody
from service.views import Resources, answered
from service.work import database

blueprint = Resources("health", "For those who keep the service running.")
blueprint.url_prefix = None


@blueprint.route("/healthz")
@blueprint.response(200, answers.Health)
@open_to_everybody
def healthz() -> Response:
    """Tell that the process answers."""
    return answered({"status": "alive"})


@blueprint.route("/readyz")
@blueprint.response(200, answers.Readiness)
@blueprint.alt_response(503, schema=answers.Readiness)
@open_to_everybody
def readyz() -> Response:
    """Tell whether the database answers and has every migration that this process needs.

    A newer one is as good: processes are replaced after the database was upgraded.
    """
    try:
        with database().read() as reading:
            revision = revision_of(reading.connection())
    except SQLAlchemyError as error:
        return answered(_state("not ready", type(error).__name__, "unknown"), 503)
    if lacks_steps(revision):
        behind = f"at {revision}, needs {head()}: heeldepth database upgrade"
        return answered(_state("not ready", "answers", behind), 503)
    ahead = f", newer than this process, which needs {head()}" if is_newer(revision) else ""
    return answered(_state("ready", "answers", f"at {revision}{ahead}"))


def _state(status: str, database_state: str, migrations: str) -> dict[str, str]:
    return {"status": status, "database": database_state, "migrations": migrations}
