"""Whether the service is alive, and whether it is ready."""

from __future__ import annotations

from flask import Response
from sqlalchemy.exc import SQLAlchemyError

from migrations.revisions import head, revision_of
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
    """Tell whether the database answers and has the newest migration."""
    try:
        with database().read() as reading:
            revision = revision_of(reading.connection())
    except SQLAlchemyError as error:
        return answered(_state("not ready", type(error).__name__, "unknown"), 503)
    if revision != head():
        behind = f"at {revision}, needs {head()}: heeldepth database upgrade"
        return answered(_state("not ready", "answers", behind), 503)
    return answered(_state("ready", "answers", f"at {revision}"))


def _state(status: str, database_state: str, migrations: str) -> dict[str, str]:
    return {"status": status, "database": database_state, "migrations": migrations}
