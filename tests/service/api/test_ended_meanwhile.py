"""What somebody began with a token, a session or a password that ends before it is written.

Who asks is looked up before the write lock is waited for, and a password is verified for a while:
whoever keeps asking meets the moment in which the password is reset. All names are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import product
from typing import Any

import pytest
from argon2 import PasswordHasher
from sqlalchemy import select

from models.actions import access, accounts
from models.tables.accounts import PasswordReset
from service.sessions import COOKIE
from tests.service.api.test_accounts import Browser

KNOWN = {"username": "wigeon", "password": "invented password"}
NEW = "another invented password"

Meanwhile = Callable[[], None]


@pytest.fixture
def second(world: Any) -> Any:
    """Return a second steward of `mine`, who has a password."""
    who = world.member(world.mine.steward.group_id, "Wigeon", "steward")
    who.make("/v1/accounts", KNOWN)
    return who


@pytest.fixture
def is_reset(world: Any, second: Any) -> Meanwhile:
    """Return a function that resets the second steward's password, the first time it is called."""
    codes = [world.mine.steward.make(f"/members/{second.member_id}/password-reset")["code"]]

    def reset() -> None:
        if codes:
            body = {"code": codes.pop(), "password": NEW}
            assert world.client.post("/v1/accounts/password", json=body).status_code == 204

    return reset


def after_look(monkeypatch: pytest.MonkeyPatch, name: str, then: Meanwhile) -> None:
    """Have something happen as soon as it is known who asks."""
    look: Any = getattr(access, name)

    def looked(*given: Any) -> Any:
        found = look(*given)
        then()
        return found

    monkeypatch.setattr(access, name, looked)


def asked(who: Any, world: Any) -> dict[str, tuple[str, str, Any]]:
    """Return what gives others, or oneself, a way in: method, path and body."""
    group = f"/v1/groups/{who.group_id}"
    member = f"{group}/members/{world.mine.knitter.member_id}"
    narrow = {"label": "invented", "scopes": ["read", "report"], "days": 90}
    return {
        "token": ("POST", "/v1/tokens", narrow),
        "invitation": ("POST", f"{group}/invitations", {"role": "steward"}),
        "role": ("PATCH", member, {"role": "steward"}),
        "reset code": ("POST", f"{member}/password-reset", {}),
    }


@pytest.mark.parametrize(
    "asking", list(product(["token", "session"], ["token", "invitation", "role", "reset code"]))
)
def test_nothing_that_lets_somebody_in_is_made_by_who_was_just_shut_out(
    world: Any,
    second: Any,
    is_reset: Meanwhile,
    is_problem: Any,
    monkeypatch: pytest.MonkeyPatch,
    asking: tuple[str, str],
) -> None:
    way, what = asking
    world.mine.knitter.make("/v1/accounts", {**KNOWN, "username": "wren"})
    method, path, body = asked(second, world)[what]
    headers = {"If-Match": "*"}
    if way == "token":
        name = "asker_of" if what == "token" else "actor_of"
        after_look(monkeypatch, name, is_reset)
        answer = second.ask(method, path, json=body, headers=headers)
    else:
        browser = Browser(world)
        browser.login(**KNOWN)
        after_look(monkeypatch, "asker_of_session", is_reset)
        answer = browser.ask(method, path, body, X_CSRF_Token=browser.csrf, If_Match="*")
    is_problem(answer, 401)
    assert world.mine.steward.items("/invitations") == []
    shown = world.mine.steward.get(f"/members/{world.mine.knitter.member_id}").json
    assert shown["role"] == "knitter"


@pytest.mark.parametrize("what", ["invitations", "role", "reset"])
def test_pages_refuse_who_was_just_shut_out_too(
    world: Any, second: Any, is_reset: Meanwhile, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    knitter = world.mine.knitter
    knitter.make("/v1/accounts", {**KNOWN, "username": "wren"})
    browser = Browser(world)
    browser.login(**KNOWN)
    after_look(monkeypatch, "asker_of_session", is_reset)
    members = f"/groups/{second.group_id}/members"
    path = f"{members}/{what if what == 'invitations' else f'{knitter.member_id}/{what}'}"
    form = {"role": "steward", "uses": "1", "days": "1", "csrf_token": browser.csrf}
    headers = {"Cookie": f"{COOKIE}={browser.cookie}"}
    page = browser.client.post(path, data=form, headers=headers)
    assert page.status_code >= 400
    assert "log in again" in page.text
    assert world.mine.steward.items("/invitations") == []
    assert world.mine.steward.get(f"/members/{knitter.member_id}").json["role"] == "knitter"
    with world.database.read() as session:
        [only] = session.scalars(select(PasswordReset)).all()
    assert only.used_at is not None, "that of the second steward"


@pytest.mark.parametrize("end", [{"role": "designer"}, None])
@pytest.mark.parametrize("what", ["role", "reset code", "removal"])
def test_a_steward_who_was_just_made_none_changes_nobody(
    world: Any,
    second: Any,
    is_problem: Any,
    monkeypatch: pytest.MonkeyPatch,
    what: str,
    end: dict[str, str] | None,
) -> None:
    knitter, steward = world.mine.knitter, world.mine.steward
    knitter.make("/v1/accounts", {**KNOWN, "username": "wren"})
    removal = ("DELETE", f"/v1/groups/{second.group_id}/members/{knitter.member_id}", None)
    method, path, body = {**asked(second, world), "removal": removal}[what]
    sent = []

    def is_none_any_more() -> None:
        if not sent:
            sent.append(True)
            place = f"/members/{second.member_id}"
            made = (
                steward.patch(place, end, If_Match="*")
                if end
                else steward.delete(place, If_Match="*")
            )
            assert made.status_code in (200, 204)

    after_look(monkeypatch, "actor_of", is_none_any_more)
    is_problem(second.ask(method, path, json=body, headers={"If-Match": "*"}), 403)
    shown = steward.get(f"/members/{knitter.member_id}").json
    assert (shown["role"], shown["left_at"]) == ("knitter", None)


def test_the_same_is_made_where_nobody_was_shut_out(world: Any, second: Any) -> None:
    world.mine.knitter.make("/v1/accounts", {**KNOWN, "username": "wren"})
    browser = Browser(world)
    browser.login(**KNOWN)
    for method, path, body in asked(second, world).values():
        for answer in (
            second.ask(method, path, json=body, headers={"If-Match": "*"}),
            browser.ask(method, path, body, X_CSRF_Token=browser.csrf, If_Match="*"),
        ):
            assert answer.status_code in (200, 201), answer.text


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> Callable[[str, Meanwhile], None]:
    """Return a function that has something happen while passwords are verified or hashed."""

    def set_up(name: str, then: Meanwhile) -> None:
        def worked(hasher: PasswordHasher, *given: str) -> Any:
            done = getattr(PasswordHasher, name)(hasher, *given)
            then()
            return done

        monkeypatch.setattr(accounts, "HASHER", type("Slow", (PasswordHasher,), {name: worked})())

    return set_up


def test_a_password_that_is_reset_while_it_is_verified_opens_nothing(
    world: Any, second: Any, is_reset: Meanwhile, is_problem: Any, slow: Any
) -> None:
    slow("verify", is_reset)
    browser = Browser(world)
    is_problem(browser.login(**KNOWN), 401)
    assert browser.login(username=KNOWN["username"], password=NEW).status_code == 201


@pytest.mark.parametrize(
    "asking",
    [
        ("/v1/accounts", {"username": KNOWN["username"], "password": "a thief's password"}),
        ("/v1/tokens", {"label": "invented"}),
    ],
)
def test_a_password_that_is_reset_while_it_is_verified_confirms_nothing(
    world: Any, second: Any, is_reset: Meanwhile, is_problem: Any, slow: Any, asking: Any
) -> None:
    path, body = asking
    slow("verify", is_reset)
    is_problem(second.post(path, {**body, "current_password": KNOWN["password"]}), 401)
    browser = Browser(world)
    assert browser.login(username=KNOWN["username"], password=NEW).status_code == 201


@pytest.mark.parametrize("what", ["accounts", "page", "join", "found"])
def test_others_write_while_a_password_is_hashed(
    world: Any, second: Any, slow: Any, what: str
) -> None:
    """SQLite has one write lock: whoever held it for so long would let nobody else report."""
    invited = world.mine.steward.make("/invitations")["code"]
    browser = Browser(world)
    browser.login(**KNOWN)
    written = []

    def another_writes() -> None:
        with ThreadPoolExecutor(1) as thread:
            sent = thread.submit(world.mine.knitter.post, "/feet", world.foot())
            written.append(sent.result(timeout=10).status_code)

    slow("hash", another_writes)
    current = {"current_password": KNOWN["password"]}
    changed = {"password": NEW, **current}
    new = {"username": "isolde.new", "password": NEW, "consent_version": "3"}
    client = world.app.test_client()
    if what == "accounts":
        answer = second.post("/v1/accounts", {"username": KNOWN["username"], **changed})
    elif what == "page":
        headers = {"Cookie": f"{COOKIE}={browser.cookie}"}
        form = {**changed, "csrf_token": browser.csrf}
        answer = browser.client.post("/account", data=form, headers=headers)
    elif what == "join":
        answer = client.post("/join", data={"code": invited, "name": "Isolde", **new})
    else:
        answer = client.post("/groups/new", data={"name": "Terns", "steward": "Isolde", **new})
    assert (answer.status_code, written) == (201 if what == "accounts" else 302, [201])
