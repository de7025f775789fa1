"""Logging in and out, and one's own account."""

from __future__ import annotations

from flask import redirect, request, url_for
from flask.typing import ResponseReturnValue

from models.actions import accounts, resets
from models.domain.errors import Fault, Forbidden, Invalid
from models.domain.passwords import SHORTEST_PASSWORD
from models.domain.roles import Action
from service import sessions
from service.access import asker, certain
from service.confirmation import require_current_password
from service.limits import Counted, address, count, count_login
from service.pages.forms import Field, Form, attempt, loaded
from service.pages.frame import Pages
from service.pages.visitors import only_persons, safe_next, with_or_without_login
from service.people_schemas import NewAccount, NewPassword, NewSession
from service.work import database, session

blueprint = Pages("login")

USERNAME = Field("username", "Username", autocomplete="username")
NEW_PASSWORD = Field(
    "password",
    "Password",
    f"At least {SHORTEST_PASSWORD} characters; a few words in a row are good.",
    "password",
    "new-password",
)

LOGIN = Form(
    "Log in",
    "Log in",
    (USERNAME, Field("password", "Password", "", "password", "current-password")),
)
RESET = Form(
    "Set a new password",
    "Set the password",
    (
        Field("code", "One-time code", "From a steward of your group, good for 24 hours."),
        NEW_PASSWORD,
    ),
)
CURRENT_PASSWORD = Field(
    "current_password", "Your password as it is now", "", "password", "current-password"
)
ACCOUNT = Form("Your account", "Change the password", (CURRENT_PASSWORD, NEW_PASSWORD))


@blueprint.get("/login")
def page() -> str:
    """Ask for username and password."""
    return LOGIN.shown("pages/login.html", next=safe_next(request.args.get("next")))


@blueprint.post("/login")
def log_in() -> ResponseReturnValue:
    """Log in and go on to the page that was asked for, or to one's groups."""
    onward = safe_next(request.form.get("next"))
    with attempt(LOGIN) as tried:
        given = loaded(LOGIN.given(), NewSession())
        count_login(given["username"])
        opened, replaced_at = sessions.log_in(**given)
    if tried.problems:
        return LOGIN.shown("pages/login.html", problems=tried.problems, next=onward), 422
    onward = onward or url_for("people.own_groups")
    if replaced_at is not None:
        onward = url_for("login.account", done="replaced", next=onward)
    return sessions.remember(redirect(onward), opened)


@blueprint.post("/logout")
@with_or_without_login
def log_out() -> ResponseReturnValue:
    """End the session, here and in the browser."""
    sessions.close()
    return sessions.forget(redirect(url_for("pages.start")))


@blueprint.get("/reset")
def reset_page() -> str:
    """Ask for a one-time code and a new password."""
    return RESET.shown("pages/reset.html")


@blueprint.post("/reset")
def reset() -> ResponseReturnValue:
    """Set a new password with a one-time code."""
    count(Counted.LOGIN, address())
    with attempt(RESET) as tried:
        given = loaded(RESET.given(), NewPassword())
        with database().read() as reading:
            resets.require_good(reading, given["code"])
        password_hash = accounts.hashed(given["password"])
        resets.set_password(session(), given["code"], password_hash)
    if tried.problems:
        return RESET.shown("pages/reset.html", problems=tried.problems), 422
    return redirect(url_for("login.page", done="reset"))


@blueprint.get("/account")
@only_persons(Action.KEEP_ACCOUNT)
def account() -> str:
    """Show one's account."""
    return _account_page()


@blueprint.post("/account")
@only_persons(Action.KEEP_ACCOUNT)
def change_password() -> ResponseReturnValue:
    """Set a new password, which ends every other session and revokes every token."""
    with database().read() as reading:
        username = accounts.read_account(reading, asker())["username"]
    with attempt(ACCOUNT) as tried:
        given = loaded({"username": username, **ACCOUNT.given()}, NewAccount())
        confirm(CURRENT_PASSWORD.name, given["current_password"])
        password_hash = accounts.hashed(given["password"])
        accounts.set_account(certain(), asker(), username, password_hash)
        opened = sessions.opened(asker().person_id)
    if tried.problems:
        return _account_page(problems=tried.problems), 422
    return sessions.remember(redirect(url_for("login.account", done="password")), opened)


def confirm(field: str, given: str | None) -> None:
    """Ask for the current password, and say beside its field where this is not it.

    Raises
    ------
    Invalid
        Where it is missing or wrong.
    TooOften
        Where it was tried too often.

    """
    try:
        require_current_password(given)
    except Forbidden as error:
        raise Invalid([Fault(field, None, "this is not your password")]) from error


def _account_page(**more: object) -> str:
    return ACCOUNT.shown(
        "pages/account.html",
        account=accounts.read_account(session(), asker()),
        onward=safe_next(request.args.get("next")),
        **more,
    )
