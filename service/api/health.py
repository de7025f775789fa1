"""Whether the service is alive, and whether it is ready."""

from __future__ import annotations

import shutil
import time

from flask import Response, current_app
from sqlalchemy.exc import SQLAlchemyError

from migrations.revisions import head, is_newer, lacks_steps, revision_of
from models.tables.engine import file_of
from service import answers
from service.access import open_to_everybody
from service.problems import FULL_AT
from service.views import Resources, answered
from service.work import database

ROOM_BYTES = 2**20
"""Bytes free on SQLite's disk below which little more is written."""

FULL_S = 60.0
"""For so long after a write that found no room the database counts as full."""

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

    A newer one is as good: processes are replaced after the database was upgraded. Where its disk
    is full, what is there is still answered, so it stays ready and says so.
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
    return answered(_state("ready", _room(), f"at {revision}{ahead}"))


def _room() -> str:
    """Return what the database does, as far as that can be told without writing."""
    file = file_of(current_app.config["HEELDEPTH"].database_url)
    full = file is not None and shutil.disk_usage(file.parent).free < ROOM_BYTES
    if full or time.monotonic() - current_app.extensions.get(FULL_AT, -FULL_S) < FULL_S:
        return "answers what is there; there is no room left to write"
    return "answers"


def _state(status: str, database_state: str, migrations: str) -> dict[str, str]:
    return {"status": status, "database": database_state, "migrations": migrations}
