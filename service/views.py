"""What every view of a group shares: who asks, repeated requests, pages."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any

from flask import Response, current_app, g, request, url_for
from flask.typing import ResponseReturnValue
from flask.views import MethodView
from flask_smorest import Blueprint

from models.actions.access import actor_of, person_of
from models.actions.actor import Actor
from models.actions.paging import Page
from models.domain.errors import Unauthenticated
from service.idempotency import once
from service.parsing import StrictParser
from service.work import database

View = Callable[..., ResponseReturnValue]


class Resources(Blueprint):
    """A blueprint of resources under /v1 that reads requests strictly."""

    ARGUMENTS_PARSER = StrictParser()

    def __init__(self, name: str, description: str) -> None:
        super().__init__(name, name, url_prefix="/v1", description=description)


def bearer() -> str:
    """Return the token of this request.

    Raises
    ------
    Unauthenticated
        Where there is none.

    """
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    if scheme.lower() != "bearer" or not token.strip():
        raise Unauthenticated("send your token as: Authorization: Bearer TOKEN")
    return token.strip()


def for_members(view: View) -> View:
    """Let only members of the group in the path through; the rest learn nothing of the group."""

    @wraps(view)
    def checked(*args: Any, **path: Any) -> ResponseReturnValue:
        with database().read() as reading:
            g.person_id, g.actor = actor_of(reading, bearer(), path["group_id"])
        return view(*args, **path)

    return checked


def for_anybody(view: View) -> View:
    """Let everybody through; whoever sends a token must send a good one."""

    @wraps(view)
    def checked(*args: Any, **path: Any) -> ResponseReturnValue:
        if "Authorization" in request.headers:
            with database().read() as reading:
                g.person_id = person_of(reading, bearer())
        return view(*args, **path)

    return checked


class GroupView(MethodView):
    """Operations inside a group: for members only, and every POST at most once per key."""

    decorators = [once, for_members]  # noqa: RUF012


def actor() -> Actor:
    """Return who is acting in the group of this request."""
    found: Actor = g.actor
    return found


def answered(body: Mapping[str, Any], status: int = 200) -> Response:
    """Return JSON values that are ready to send, skipping the schema that documents them."""
    text = current_app.json.dumps(body)
    return Response(text, status, mimetype="application/json")


def created(body: Mapping[str, Any], endpoint: str, **path: Any) -> Response:
    """Return what was created, with its address."""
    answer = answered(body, 201)
    answer.headers["Location"] = url_for(endpoint, **path)
    return answer


def listed(found: Page, *, more: Callable[[Any], Mapping[str, Any]] = lambda _row: {}) -> Response:
    """Return a page with a `Link` to the next one; `more` adds members to an item."""
    items = [{**row._mapping, **more(row)} for row in found.rows]
    answer = answered({"items": items, "next": found.next_after})
    if found.next_after is not None:
        arguments = {**request.args, **(request.view_args or {}), "cursor": found.next_after}
        answer.headers["Link"] = f'<{url_for(str(request.endpoint), **arguments)}>; rel="next"'
    return answer
