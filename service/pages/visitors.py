"""Who a page is for: the API's rule table, asked for people who are logged in.

Every page of a group declares its action, as every operation of the API does; whoever is not
logged in is led to the login page and back.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from flask import current_app, g, redirect, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy import Connection

from models.actions import access, groups
from models.actions.actor import Actor, Asker
from models.domain.errors import Forbidden, Unauthenticated
from models.domain.roles import Action
from service.access import DECLARED, View
from service.sessions import CSRF_FIELD, is_ours, session_id
from service.work import READING, database


def only_members(action: Action) -> Callable[[View], View]:
    """Let members of the group in the path see a page, where their role allows an action.

    A group of others looks exactly like one that does not exist. The page goes by `actor`: it is
    not given the group's id again.
    """

    def check(reading: Connection, asker: Asker, path: dict[str, Any]) -> None:
        _enter(reading, asker, path.pop("group_id"), action)

    return _declared(action, check)


def only_persons(action: Action) -> Callable[[View], View]:
    """Let whoever is logged in see a page."""

    def check(_reading: Connection, asker: Asker, _path: dict[str, Any]) -> None:
        asker.require(action)

    return _declared(action, check)


def with_or_without_login(view: View) -> View:
    """Let everybody see a page, which may ask `known` who it is for."""

    @wraps(view)
    def checked(**path: Any) -> ResponseReturnValue:
        with database().look() as reading:
            try:
                g.asker = _logged_in(reading)
                g.person_id = g.asker.person_id
            except Unauthenticated:
                g.pop("asker", None)
        return view(**path)

    return checked


def enter(asker: Asker, group_id: str, action: Action) -> Actor:
    """Return the member that somebody is in a group which a form names.

    Raises
    ------
    NotFound, Forbidden
        As pages inside a group are refused.

    """
    with database().look() as reading:
        return _enter(reading, asker, group_id, action)


def known() -> Asker | None:
    """Return who is logged in, or None."""
    found: Asker | None = g.get("asker")
    return found


def to_login() -> ResponseReturnValue:
    """Lead to the login page and back, also to a form whose sender was logged out meanwhile."""
    page = request.full_path.removesuffix("?") if _can_be_opened() else None
    lost = None if request.method in READING else "1"
    return redirect(url_for("login.page", next=page, lost=lost))


def safe_next(address: str | None) -> str | None:
    """Return an address to go on to if it is a path of ours, or None.

    Browsers take any number of slashes beyond one for the beginning of a host (WHATWG URL, special
    authority ignore slashes state).

    >>> safe_next("/groups?x=1"), safe_next("///elsewhere.invalid"), safe_next("https://x.invalid")
    ('/groups?x=1', None, None)
    """
    if not address or not address.startswith("/") or address.startswith("//"):
        return None
    return address if address.isprintable() and "\\" not in address else None


def _declared(
    action: Action, check: Callable[[Connection, Asker, dict[str, Any]], None]
) -> Callable[[View], View]:
    def declare(view: View) -> View:
        @wraps(view)
        def checked(**path: Any) -> ResponseReturnValue:
            with database().look() as reading:
                try:
                    asker = _logged_in(reading)
                except Unauthenticated:
                    return to_login()
                g.asker, g.person_id = asker, asker.person_id
                check(reading, asker, path)
            return view(**path)

        setattr(checked, DECLARED, action)
        return checked

    return declare


def _can_be_opened() -> bool:
    """Return whether there is a page at the address of this request."""
    here = request.url_rule and request.url_rule.rule
    rules = current_app.url_map.iter_rules()
    return any(one.rule == here and "GET" in (one.methods or ()) for one in rules)


def _enter(reading: Connection, asker: Asker, group_id: str, action: Action) -> Actor:
    found = access.actor_as(reading, asker, group_id)
    found.require(action)
    g.actor, g.group_name = found, groups.name_of(reading, group_id)
    return found


def _logged_in(reading: Connection) -> Asker:
    """Return who is logged in; what changes something must come from a form of that session."""
    shown = session_id()
    if shown is None:
        raise Unauthenticated("log in first")
    asker = access.asker_of_session(reading, shown)
    if request.method not in READING and not is_ours(shown, request.form.get(CSRF_FIELD)):
        raise Forbidden("this form is from before you logged in: go back, open it anew, send again")
    return asker
