"""Everything about oneself: taking it along, and having it erased."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

from flask import Response

from models.actions import about_me, leaving
from models.actions.erasing import Leaving
from models.domain.roles import Action
from service import people_answers, sessions
from service.access import actor, asker, needs
from service.confirmation import require_current_password
from service.erasing import Way, erase_now
from service.job_answers import Job
from service.jobs.asking import PREFER, accepted, prefers_async
from service.jobs.erasing import told
from service.limits import Counted, counts
from service.people_schemas import ExportForm, NewErasure
from service.views import GroupView, Resources, SecretView, answered
from service.work import database, workroom

blueprint = Resources("me", "Everything about you: take it along, or have it erased.")

ZIP = "application/zip"
AS_A_JOB = "ask for it as a job, which has time, with the header Prefer: respond-async"
_FILES = {
    "200": {
        "description": "Everything about you.",
        "content": {
            "application/json": {"schema": {"type": "object"}},
            ZIP: {"schema": {"type": "string", "format": "binary"}},
        },
    }
}


@blueprint.route("/me")
class Me(SecretView):
    """Everything about whoever asks."""

    @needs(Action.TAKE_OUT)
    @blueprint.arguments(ExportForm(), location="query")
    @blueprint.response(200)
    @blueprint.doc(responses=_FILES)
    def get(self, asked: Mapping[str, str]) -> Response:
        """Take out everything about you in all groups: JSON, or CSV files in a zip archive.

        Tokens, codes and passwords are kept as digests only and are not in it.
        """
        with database().read() as reading:
            whole = leaving.whole_account(reading, asker(), Action.TAKE_OUT)
            found = about_me.everything_about(reading, whole)
        if asked["form"] == "json":
            return answered(found)
        archive = io.BytesIO()
        about_me.write_csv(found, archive)
        return Response(archive.getvalue(), mimetype=ZIP)

    @needs(Action.ERASE)
    @counts(Counted.LOGIN)
    @blueprint.arguments(NewErasure(), required=False)
    @blueprint.response(200, people_answers.Erased)
    @blueprint.alt_response(202, schema=Job, success=True)
    @blueprint.doc(parameters=[PREFER])
    def delete(self, given: Mapping[str, Any]) -> Response:
        """Erase your account and everything of yours in all groups, also in those you left.

        Feet, reports, suggestions, tokens and stored answers go; what groups had learned from your
        reports is learned anew without them. It cannot be undone. The last steward of a group that
        others are in makes somebody else steward first. As a job it is one of a group that you are
        in, and goes with everything else: answered 401, it is done. If you have a password, send
        it as `current_password`.
        """
        require_current_password(given["current_password"])
        with database().read() as reading:
            whole = leaving.whole_account(reading, asker(), Action.ERASE)
            somewhere = leaving.somewhere(reading, asker(), whole)
        if prefers_async() and somewhere is not None:
            return accepted("erasure", {"account": True}, who=somewhere)
        return sessions.forget(_erased(whole, may_wait=somewhere is None))


@blueprint.route("/me/places/<hexid:place_id>")
class OnePlace(SecretView):
    """One's place in one group."""

    @needs(Action.ERASE)
    @counts(Counted.LOGIN)
    @blueprint.arguments(NewErasure(), required=False)
    @blueprint.response(200, people_answers.Erased)
    @blueprint.alt_response(202, schema=Job, success=True)
    @blueprint.doc(parameters=[PREFER])
    def delete(self, given: Mapping[str, Any], place_id: str) -> Response:
        """Leave one group and erase everything of yours in it; your account stays.

        The place is your member id there; it may be in a group that you left before. As a job it
        goes with everything else: answered 404, it is done. If you have a password, send it as
        `current_password`.
        """
        require_current_password(given["current_password"])
        with database().read() as reading:
            place = leaving.own_place(reading, asker(), place_id)
            somewhere = leaving.somewhere(reading, asker(), place)
        if prefers_async() and somewhere is not None:
            return accepted("erasure", {"account": False}, who=somewhere)
        return _erased(place, may_wait=somewhere is None)


@blueprint.route("/groups/<hexid:group_id>/reporters/<hexid:reporter_id>")
class OneReporter(GroupView):
    """A reporter who has not joined."""

    @needs(Action.ERASE_REPORTERS)
    @blueprint.response(200, people_answers.Erased)
    @blueprint.alt_response(202, schema=Job, success=True)
    @blueprint.doc(parameters=[PREFER])
    def delete(self, group_id: str, reporter_id: str) -> Response:
        """Erase a reporter who has not joined, with everything that was written down for them."""
        with database().read() as reading:
            found = leaving.reporter(reading, actor(), reporter_id)
        if prefers_async():
            return accepted("reporter erasure", {"reporter_id": reporter_id})
        return _erased(found)


def _erased(who: Leaving, *, may_wait: bool = False) -> Response:
    """Erase somebody at once, however long it takes where it cannot be asked for as a job."""
    way = Way(workroom(), instead=None if may_wait else AS_A_JOB)
    return answered(told(erase_now(database(), who, way)))
