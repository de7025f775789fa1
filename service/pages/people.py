"""One's groups: listing them, founding one, and joining one with an invitation."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import redirect, render_template, url_for
from flask.typing import ResponseReturnValue
from marshmallow import Schema
from werkzeug.wrappers import Response

from models.actions import acceptance, accounts, groups, newcomers
from models.actions.actor import Asker
from models.domain import consent
from models.domain.errors import Closed
from models.domain.roles import Action
from service import founding, sessions
from service.access import asker
from service.limits import Counted, address, count
from service.pages.forms import Field, Form, attempt, loaded
from service.pages.frame import Pages
from service.pages.login import NEW_PASSWORD
from service.pages.visitors import known, only_persons, with_or_without_login
from service.people_schemas import Code, NewAccount, NewMember
from service.schemas import NewGroup
from service.work import database, session

blueprint = Pages("people")

NEW_USERNAME = Field(
    "username",
    "Username",
    "To log in with; other members do not see it. Small letters, digits, dots and hyphens.",
    autocomplete="username",
)
ACCOUNT_FIELDS = (NEW_USERNAME, NEW_PASSWORD)
CODE = Field("code", "Invitation code", "From a steward of the group.")
CONSENT = Field(
    "consent_version",
    "I agree to this",
    kind="checkbox",
    value=str(consent.VERSION),
    wanted="Read what being in a group means, and tick the box if you agree.",
)
JOINING = (
    CODE,
    Field(
        "name",
        "Your name in the group",
        "Leave it empty if the steward has kept your socks under a name already.",
    ),
)
FOUNDING = (
    Field("name", "Name of the group"),
    Field("steward", "Your name in the group", "You will be its steward."),
)


@blueprint.get("/groups")
@only_persons(Action.LIST_GROUPS)
def own_groups() -> str:
    """List one's groups, each with the role there."""
    mine = groups.groups_of(session(), asker().person_id)
    return render_template("pages/groups.html", mine=mine)


@blueprint.get("/join")
@with_or_without_login
def join_page() -> str:
    """Ask for an invitation code."""
    return _joining().shown("pages/join.html", consent=consent)


@blueprint.post("/join")
@with_or_without_login
def join() -> ResponseReturnValue:
    """Accept an invitation, as the person who is logged in or as somebody new."""
    count(Counted.JOINING, address())
    form = _joining()
    with attempt(form) as tried:
        given = loaded(_agreed(form.given()), Code(), NewMember(), *_account_schemas())
        with database().read() as reading:
            acceptance.require_open(reading, given["code"])
        person = _person(given)
        name, version = given["name"], given["consent_version"]
        joined = acceptance.accept(session(), person, given["code"], name, version)
    if tried.problems:
        return form.shown("pages/join.html", problems=tried.problems, consent=consent), 422
    return _entered(person, joined.group.id)


@blueprint.get("/groups/new")
@with_or_without_login
def founding_page() -> str:
    """Ask for the name of a new group."""
    return _founding_page()


@blueprint.post("/groups/new")
@with_or_without_login
def found() -> ResponseReturnValue:
    """Found a group, as the person who is logged in or as somebody new."""
    count(Counted.JOINING, address())
    form = _founding()
    with attempt(form) as tried:
        if not founding.is_open():
            raise Closed("groups are made by whoever keeps this service: ask there")
        given = loaded(_agreed(form.given()), NewGroup(), *_account_schemas())
        if (logged_in := known()) is not None:
            count(Counted.FOUNDING, logged_in.person_id)
        person = _person(given)
        names, agreed = (given["name"], given["steward"]), given["consent_version"]
        group, _ = groups.create_group(session(), *names, person.person_id, consent_version=agreed)
    if tried.problems:
        return _founding_page(problems=tried.problems), 422
    return _entered(person, group.id)


def _joining() -> Form:
    return Form("Join a group", "Join", (*JOINING, *_account_fields(), CONSENT))


def _founding() -> Form:
    return Form("Found a group", "Found the group", (*FOUNDING, *_account_fields(), CONSENT))


def _founding_page(**more: object) -> str:
    closed = not founding.is_open()
    return _founding().shown("pages/found.html", closed=closed, consent=consent, **more)


def _account_fields() -> tuple[Field, ...]:
    return ACCOUNT_FIELDS if known() is None else ()


def _account_schemas() -> list[Schema]:
    return [NewAccount()] if known() is None else []


def _agreed(given: Mapping[str, str]) -> dict[str, Any]:
    """Return what was sent, with the version of the text that the ticked box is about."""
    agreed = given.get(CONSENT.name) == CONSENT.value
    others = {name: text for name, text in given.items() if name != CONSENT.name}
    return {**others, CONSENT.name: consent.VERSION} if agreed else others


def _person(given: Mapping[str, Any]) -> Asker:
    """Return who is logged in, or somebody new.

    The password is hashed before anything is written, for that takes a while, and after all that
    can be looked up.
    """
    found = known()
    if found is not None:
        return found
    with database().read() as reading:
        accounts.require_free(reading, given["username"])
    password_hash = accounts.hashed(given["password"])
    return newcomers.newcomer(session(), given["username"], password_hash)


def _entered(person: Asker, group_id: str) -> Response:
    """Lead into a group; who is new is logged in with it."""
    answer = redirect(url_for("group.overview", group_id=group_id))
    if known() is None:
        return sessions.remember(answer, sessions.opened(person.person_id))
    return answer
