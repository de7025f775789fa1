"""Tokens of a person: made, listed and revoked by that person alone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response

from models.actions import tokens
from models.domain.roles import EVERY_SCOPE, Action, Scope
from service import people_answers
from service.access import asker, certain, needs
from service.confirmation import require_current_password
from service.limits import Counted, counts
from service.people_schemas import NewToken
from service.views import PersonView, Resources, SecretView, answered
from service.work import session

blueprint = Resources("tokens", "Your own tokens, each for what it is needed for.")


@blueprint.route("/tokens")
class Tokens(SecretView):
    """The tokens of a person."""

    @needs(Action.KEEP_ACCOUNT)
    @blueprint.response(200, people_answers.Tokens)
    def get(self) -> Response:
        """List your tokens that are good, without themselves."""
        found = tokens.list_tokens(session(), asker())
        return answered({"items": [_shown(row) for row in found]})

    @needs(Action.KEEP_ACCOUNT)
    @counts(Counted.LOGIN)
    @blueprint.arguments(NewToken())
    @blueprint.response(201, people_answers.NewTokenAnswer)
    def post(self, given: Mapping[str, Any]) -> Response:
        """Make a token for some scopes and some time; it is shown this once.

        A scope narrows what your role in a group allows. No token outlives the one that makes it.
        One that has every scope or never ends needs your password, if you have one.
        """
        scopes = frozenset(map(Scope, given["scopes"]))
        if scopes == EVERY_SCOPE or given["days"] is None:
            require_current_password(given["current_password"])
        token, row = tokens.make_token(certain(), asker(), given["label"], scopes, given["days"])
        return answered({**_shown(row), "token": token}, 201)


@blueprint.route("/tokens/<hexid:token_id>")
class OneToken(PersonView):
    """One token."""

    @needs(Action.KEEP_ACCOUNT)
    @blueprint.response(204)
    def delete(self, token_id: str) -> None:
        """Revoke one of your tokens; it is refused from the next request on."""
        tokens.revoke_token(session(), asker(), token_id)


def _shown(row: Mapping[str, Any]) -> dict[str, Any]:
    return {**row, "scopes": row["scopes"].split()}
