"""What views share: who may ask, repeated requests, answers and pages."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack
from functools import wraps
from itertools import chain
from typing import Any

from flask import Response, current_app, request, url_for
from flask.typing import ResponseReturnValue
from flask.views import MethodView
from flask_smorest import Blueprint
from sqlalchemy.orm import Session

from models.actions.paging import Page
from service.access import for_members, for_persons
from service.idempotency import once
from service.parsing import StrictParser
from service.uploads import body_on_disk, place_among
from service.work import database


class Resources(Blueprint):
    """A blueprint of resources under /v1 that reads requests strictly."""

    ARGUMENTS_PARSER = StrictParser()

    def __init__(self, name: str, description: str) -> None:
        super().__init__(name, name, url_prefix="/v1", description=description)


class GroupView(MethodView):
    """Operations inside a group: for members only, and every POST at most once per key."""

    decorators = [once, for_members]  # noqa: RUF012


def _with_a_file(view: Callable[..., ResponseReturnValue]) -> Callable[..., ResponseReturnValue]:
    """Keep the body in a file instead of in memory."""

    @wraps(view)
    def wrapped(*args: Any, **path: Any) -> ResponseReturnValue:
        with body_on_disk():
            return view(*args, **path)

    return wrapped


class UploadView(MethodView):
    """Operations inside a group that take a file."""

    decorators = [once, for_members, _with_a_file]  # noqa: RUF012


class SecretGroupView(MethodView):
    """Operations inside a group whose answers hold secrets, and are therefore never kept."""

    decorators = [for_members]  # noqa: RUF012


class PersonView(MethodView):
    """Operations of a person in no group in particular."""

    decorators = [once, for_persons]  # noqa: RUF012


class SecretView(MethodView):
    """Operations of a person whose answers hold secrets, and are therefore never kept."""

    decorators = [for_persons]  # noqa: RUF012


class OpenView(MethodView):
    """Operations for everybody, that store nothing."""


def answered(body: Mapping[str, Any], status: int = 200) -> Response:
    """Return JSON values that are ready to send, skipping the schema that documents them."""
    text = current_app.json.dumps(body)
    return Response(text, status, mimetype="application/json")


def ready(text: str) -> Response:
    """Return JSON that is text already."""
    return Response(text, mimetype="application/json")


def file_of(content: bytes, media_type: str, name: str) -> Response:
    """Return a file to keep under a name."""
    return _named(Response(content, mimetype=media_type), name)


def streamed(pieces: Callable[[Session], Iterator[bytes]], media_type: str, name: str) -> Response:
    """Return a file that is sent while it is being read from the database, of one moment.

    What breaks on the way ends the connection, so that no half of a file passes for the whole. Who
    takes a long one slowly holds a thread: half of them are left for others.

    Raises
    ------
    ServiceUnavailable
        Where too many files are being sent.

    """
    with ExitStack() as end:
        places = current_app.extensions["heeldepth_sending"]
        end.enter_context(place_among(places, "other files are being sent; ask again"))
        reading = end.enter_context(database().read())
        begun = pieces(reading)
        first = next(begun, b"")
        answer = _named(Response(chain([first], begun), mimetype=media_type), name)
        answer.call_on_close(end.pop_all().close)
    return answer


def _named(answer: Response, name: str) -> Response:
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def created(body: Mapping[str, Any], endpoint: str, **path: Any) -> Response:
    """Return what was created, with its address."""
    answer = answered(body, 201)
    answer.headers["Location"] = url_for(endpoint, **path)
    return answer


def listed(
    found: Page,
    *,
    more: Callable[[Any], Mapping[str, Any]] = lambda _row: {},
    beside: Mapping[str, Any] | None = None,
) -> Response:
    """Return a page with a `Link` to the next one.

    `more` adds members to an item, `beside` to the page.
    """
    items = [{**row._mapping, **more(row)} for row in found.rows]
    answer = answered({"items": items, "next": found.next_after, **(beside or {})})
    if found.next_after is not None:
        arguments = {**request.args, **(request.view_args or {}), "cursor": found.next_after}
        answer.headers["Link"] = f'<{url_for(str(request.endpoint), **arguments)}>; rel="next"'
    return answer
