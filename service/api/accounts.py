"""Usernames, passwords and sessions, for people who use pages."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response
from flask.views import MethodView

from models.actions import accounts, resets
from models.domain.roles import Action
from models.tables.base import now
from service import people_answers, sessions
from service.access import actor, asker, certain, needs, open_to_everybody
from service.confirmation import require_current_password
from service.limits import Counted, address, count_login, counts, limited, person
from service.people_schemas import NewAccount, NewPassword, NewReset, NewSession
from service.views import Resources, SecretGroupView, SecretView, answered
from service.work import database, session

blueprint = Resources("accounts", "Logging in with a username and a password, for pages.")


@blueprint.route("/accounts")
class Accounts(SecretView):
    """One's own account."""

    @needs(Action.KEEP_ACCOUNT)
    @blueprint.response(200, people_answers.Account)
    def get(self) -> Response:
        """Read your account."""
        return answered(accounts.read_account(session(), asker()))

    @needs(Action.KEEP_ACCOUNT)
    @limited(Counted.LOGIN, person)
    @blueprint.arguments(NewAccount())
    @blueprint.response(201, people_answers.Account)
    def post(self, given: Mapping[str, Any]) -> Response:
        """Set your username and password.

        To change the password, send the one that you have as `current_password`. A changed
        password ends every session and revokes every token, this one among them, and the
        invitations and reset codes that you made.
        """
        with database().read() as reading:
            accounts.require_settable(reading, asker(), given["username"])
        require_current_password(given["current_password"], counted=True)
        password_hash = accounts.hashed(given["password"])
        body = accounts.set_account(certain(), asker(), given["username"], password_hash)
        return answered(body, 201)


@blueprint.route("/accounts/password")
class Password(MethodView):
    """Setting a new password with a one-time code."""

    @open_to_everybody
    @limited(Counted.LOGIN, address)
    @blueprint.arguments(NewPassword())
    @blueprint.response(204)
    @blueprint.alt_response(404, "NOT_FOUND")
    def post(self, given: Mapping[str, Any]) -> None:
        """Set a new password with a code from a steward or the operator; it is good once."""
        with database().read() as reading:
            resets.require_good(reading, given["code"])
        password_hash = accounts.hashed(given["password"])
        resets.set_password(session(), given["code"], password_hash)


@blueprint.route("/sessions")
class Sessions(MethodView):
    """Being logged in."""

    @open_to_everybody
    @blueprint.arguments(NewSession())
    @counts(Counted.LOGIN)
    @blueprint.response(201, people_answers.Session)
    @blueprint.alt_response(401, "UNAUTHORIZED")
    def post(self, given: Mapping[str, Any]) -> Response:
        """Log in: the answer sets a cookie, good for 12 hours, and names the CSRF token.

        A wrong username is answered like a wrong password.
        """
        count_login(given["username"])
        opened, replaced_at = sessions.log_in(given["username"], given["password"])
        body = {
            "csrf_token": sessions.csrf_token(opened),
            "expires_at": now() + accounts.LIFE,
            "password_replaced_at": replaced_at,
        }
        return sessions.remember(answered(body, 201), opened)

    @open_to_everybody
    @blueprint.response(204)
    @blueprint.alt_response(403, "FORBIDDEN")
    def delete(self) -> Response:
        """Log out: the session of the cookie ends here, not only in the browser."""
        shown = sessions.session_id()
        if shown is not None:
            sessions.require_from_our_pages(shown)
        sessions.close()
        return sessions.forget(Response(status=204))


@blueprint.route("/groups/<hexid:group_id>/members/<hexid:member_id>/password-reset")
class Reset(SecretGroupView):
    """Helping a member who forgot the password."""

    @needs(Action.RESET_PASSWORDS)
    @blueprint.arguments(NewReset(), required=False)
    @blueprint.response(201, people_answers.Reset)
    def post(self, _given: Mapping[str, Any], group_id: str, member_id: str) -> Response:
        """Issue a one-time code for a member's new password, good for 24 hours; hand it over.

        Only where you are steward of every group that the member is, or was, in: the code opens
        all that the member has there. It is good only for as long as you are. Your own password
        you change with the one that you have.
        """
        code, expires_at = resets.issue_for_member(certain(), asker(), actor(), member_id)
        return answered({"code": code, "expires_at": expires_at}, 201)
