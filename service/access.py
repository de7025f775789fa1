"""Who may ask: every operation declares its action, and is refused to whom the table says.

`needs` is the one place of an operation that says so. The decorators of the views check it, the
OpenAPI document shows it, and a test finds an operation without one.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from flask import current_app, g, request
from flask.typing import ResponseReturnValue
from flask_smorest import Blueprint
from sqlalchemy import Connection
from sqlalchemy.orm import Session

from models.actions import access
from models.actions.actor import Actor, Asker
from models.domain.errors import Unauthenticated
from models.domain.roles import ALLOWED, Action, Role, in_order
from service.sessions import require_from_our_pages, session_id
from service.work import database, session

View = Callable[..., ResponseReturnValue]

DECLARED = "heeldepth_action"
"""The attribute of a view that holds its action."""

_OPTIONAL = "heeldepth_asker_is_optional"


def needs(action: Action, *, known: bool = True) -> Callable[[View], View]:
    """Declare what an operation does; with `known=False` also somebody new may ask."""
    rule = ALLOWED[action]
    told: dict[str, Any] = {
        "x-action": action.name.lower(),
        "x-roles": [role.value for role in Role if role in rule.roles],
        "x-scopes": [scope.value for scope in in_order(rule.scopes)],
    }
    if not known:
        told["security"] = [{}, {"token": []}, {"session": [], "csrf": []}]

    def declare(view: View) -> View:
        declared: View = Blueprint.doc(**told)(view)
        setattr(declared, DECLARED, action)
        setattr(declared, _OPTIONAL, not known)
        return declared

    return declare


def open_to_everybody(view: View) -> View:
    """Declare an operation that asks nobody who they are."""
    declared: View = Blueprint.doc(security=[])(view)
    return declared


def for_members(view: View) -> View:
    """Let only members of the group in the path through; the rest learn nothing of the group."""

    @wraps(view)
    def checked(*args: Any, **path: Any) -> ResponseReturnValue:
        asker, g.actor = member_of_request(path["group_id"])
        _know(asker)
        g.actor.require(getattr(_operation(), DECLARED))
        return view(*args, **path)

    return checked


def for_persons(view: View) -> View:
    """Let people through, and somebody new where the operation is declared for them as well."""

    @wraps(view)
    def checked(*args: Any, **path: Any) -> ResponseReturnValue:
        operation = _operation()
        if _shows_something() or not getattr(operation, _OPTIONAL):
            asker = _person()
            _know(asker)
            asker.require(getattr(operation, DECLARED))
        return view(*args, **path)

    return checked


def actor() -> Actor:
    """Return who is acting in the group of this request."""
    found: Actor = g.actor
    return found


def asker() -> Asker:
    """Return the person who is asking."""
    found: Asker = g.asker
    return found


def certain() -> Session:
    """Return the session of this request, once it is sure that whoever asks was not shut out.

    For what lets somebody in: who asks was looked up before others were waited for.

    Raises
    ------
    Unauthenticated
        Where the token or the session has ended meanwhile.

    """
    access.require_still_good(session(), asker())
    return session()


def _know(asker: Asker) -> None:
    g.asker, g.person_id = asker, asker.person_id


def _operation() -> View:
    """Return the method of the view that answers this request."""
    view: Any = current_app.view_functions[str(request.endpoint)]
    method = "get" if request.method == "HEAD" else request.method.lower()
    found: View = getattr(view.view_class, method)
    return found


def _shows_something() -> bool:
    return "Authorization" in request.headers or session_id() is not None


def _person() -> Asker:
    with database().look() as reading:
        if "Authorization" in request.headers:
            return access.asker_of(reading, _bearer())
        return _logged_in(reading)


def member_of_request(group_id: str) -> tuple[Asker, Actor]:
    """Return who asks, and the member that person is in a group.

    Raises
    ------
    Unauthenticated, NotFound, Forbidden
        Where nobody is known to ask, or not as a member of the group.

    """
    with database().look() as reading:
        if "Authorization" in request.headers:
            return access.actor_of(reading, _bearer(), group_id)
        asker = _logged_in(reading)
        return asker, access.actor_as(reading, asker, group_id)


def _logged_in(reading: Connection) -> Asker:
    """Return who is logged in by cookie; a change must come from our own pages."""
    shown = session_id()
    if shown is None:
        raise Unauthenticated("send your token as: Authorization: Bearer TOKEN")
    asker = access.asker_of_session(reading, shown)
    require_from_our_pages(shown)
    return asker


def _bearer() -> str:
    """Return the token of this request."""
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    if scheme.lower() != "bearer" or not token.strip():
        raise Unauthenticated("send your token as: Authorization: Bearer TOKEN")
    return token.strip()
