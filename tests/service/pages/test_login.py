"""Logging in and out by pages, and what keeps others from doing it in one's name."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from flask.testing import FlaskClient

from models.actions import resets
from models.tables.accounts import Account, LoginSession
from models.tables.base import now
from service.app import create_app
from service.config import Settings
from service.pages.visitors import safe_next
from service.sessions import COOKIE

PASSWORD = "four invented quiet words"  # noqa: S105 - of people who do not exist
NEW = "four other invented words"


def has_cookie(browser: FlaskClient) -> bool:
    return browser.get_cookie(COOKIE) is not None


def test_a_page_for_people_leads_to_the_login_and_back(browser: FlaskClient, knows) -> None:
    username = knows("knitter")
    sent_away = browser.get("/account")
    address = urlsplit(sent_away.location)
    assert (address.path, parse_qs(address.query)) == ("/login", {"next": ["/account"]})
    page = browser.get(sent_away.location)
    assert 'name="next" value="/account"' in page.text
    form = {"username": username.upper(), "password": PASSWORD, "next": "/account"}
    sent = browser.post("/login", data=form)
    assert (sent.status_code, sent.location) == (302, "/account")
    account = browser.get("/account")
    assert f"<strong>{username}</strong>" in account.text
    assert account.headers["Cache-Control"] == "no-store"


def test_who_was_logged_out_meanwhile_is_told_so_and_led_back_to_the_form(
    browser: FlaskClient, lasting: Any
) -> None:
    group = f"/groups/{lasting.mine.steward.group_id}"
    sent_away = browser.post(f"{group}/tell/sock?like={'0' * 32}", data={"notes": "typed"})
    address = parse_qs(urlsplit(sent_away.location).query)
    assert address == {"next": [f"{group}/tell/sock?like={'0' * 32}"], "lost": ["1"]}
    assert "what you sent was not" in browser.get(sent_away.location).text
    sent_away = browser.post(f"{group}/socks/{'0' * 32}/back")
    assert parse_qs(urlsplit(sent_away.location).query) == {"lost": ["1"]}


def test_the_session_cookie_is_the_one_of_the_api(browser: FlaskClient, knows) -> None:
    form = {"username": knows("knitter"), "password": PASSWORD}
    cookie = browser.post("/login", data=form).headers["Set-Cookie"]
    assert cookie.startswith("__Host-heeldepth=")
    assert {"Secure", "HttpOnly", "Path=/", "SameSite=Lax"} <= set(cookie.split("; "))


@pytest.mark.parametrize("username", ["nobody.at.all", "knitter"])
def test_wrong_names_and_wrong_passwords_are_answered_alike(
    browser: FlaskClient, knows, username: str
) -> None:
    known = knows("knitter") if username == "knitter" else username
    page = browser.post("/login", data={"username": known, "password": "wrong"})
    assert page.status_code == 422
    assert "<title>Error: Log in" in page.text
    assert 'href="#username">No such username with that password.</a>' in page.text
    assert f'value="{known}"' in page.text
    assert "wrong" not in page.text.replace("wrong way", "")
    assert not has_cookie(browser)


def test_the_session_ends_on_both_sides(browser: FlaskClient, logged_in, csrf) -> None:
    logged_in("knitter")
    shown = browser.get_cookie(COOKIE)
    assert shown
    page = browser.get("/groups")
    assert browser.post("/logout").status_code == 403
    left = browser.post("/logout", data={"csrf_token": csrf(page.text)})
    assert (left.status_code, left.location) == (302, "/")
    assert not has_cookie(browser)
    browser.set_cookie(COOKIE, shown.value)
    assert browser.get("/groups").location.startswith("/login")


def test_a_session_runs_out(browser: FlaskClient, logged_in, lasting: Any) -> None:
    logged_in("knitter")
    assert browser.get("/groups").status_code == 200
    with lasting.database.write.begin() as session:
        for row in session.query(LoginSession):
            row.expires_at = now() - timedelta(seconds=1)
    assert browser.get("/groups").location.startswith("/login")


def test_the_same_tries_count_for_page_and_api(database_url: str) -> None:
    app = create_app(Settings(database_url, login_limit="3 per hour"))
    given = {"username": "invented.one", "password": "invented password"}
    client = app.test_client()
    assert client.post("/login", data=given).status_code == 422
    assert client.post("/v1/sessions", json=given).status_code == 401
    assert client.post("/login", data=given).status_code == 422
    refused = client.post("/login", data=given)
    assert (refused.status_code, refused.mimetype) == (429, "text/html")
    assert int(refused.headers["Retry-After"]) > 3000
    assert "At most 3 per hour here" in refused.text
    assert client.post("/v1/sessions", json=given).status_code == 429
    app.extensions["heeldepth"].close()


FOREIGN = [
    {"Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "same-site"},
    {"Origin": "https://elsewhere.invalid"},
    {"Origin": "null"},
]


@pytest.mark.parametrize("headers", FOREIGN, ids=str)
@pytest.mark.parametrize("address", ["/login", "/join", "/groups/new", "/reset", "/ask/forget"])
def test_no_page_of_others_can_send_a_form(
    browser: FlaskClient, address: str, headers: dict[str, str]
) -> None:
    page = browser.post(address, headers=headers)
    assert page.status_code == 403
    assert "from a page that is not ours" in page.text


def test_our_own_pages_can(browser: FlaskClient, knows) -> None:
    form = {"username": knows("knitter"), "password": PASSWORD}
    for headers in ({"Sec-Fetch-Site": "same-origin"}, {"Origin": "http://localhost"}, {}):
        assert browser.post("/login", data=form, headers=headers).status_code == 302


def test_a_form_from_before_the_login_is_refused(
    browser: FlaskClient, logged_in, knows, csrf
) -> None:
    logged_in("knitter")
    before = csrf(browser.get("/account").text)
    browser.post("/login", data={"username": knows("knitter"), "password": PASSWORD})
    page = browser.post("/account", data={"password": NEW, "csrf_token": before})
    assert page.status_code == 403
    assert "before you logged in" in page.text


@pytest.mark.parametrize(
    "address",
    [
        "//elsewhere.invalid",
        "///elsewhere.invalid",
        "////elsewhere.invalid/a",
        "https://elsewhere.invalid",
        "/\\elsewhere.invalid",
        "groups",
        "/a\n",
    ],
)
def test_the_way_back_never_leads_elsewhere(browser: FlaskClient, knows, address: str) -> None:
    assert safe_next(address) is None
    form = {"username": knows("knitter"), "password": PASSWORD, "next": address}
    assert browser.post("/login", data=form).location == "/groups"


def test_a_new_password_ends_other_sessions_and_keeps_this_one(logged_in, csrf) -> None:
    here, elsewhere = logged_in("changing"), logged_in("changing")
    page = here.get("/account")
    short = here.post(
        "/account",
        data={"current_password": PASSWORD, "password": "short", "csrf_token": csrf(page.text)},
    )
    assert short.status_code == 422
    assert "Password: a password of 12 to 200 characters." in short.text
    form = {"current_password": PASSWORD, "password": NEW, "csrf_token": csrf(page.text)}
    wrong = here.post("/account", data={**form, "current_password": "not the password"})
    assert wrong.status_code == 422
    assert "Your password as it is now: this is not your password." in wrong.text
    missing = here.post("/account", data={**form, "current_password": ""})
    assert 'href="#current_password"' in missing.text
    assert elsewhere.get("/account").status_code == 200
    sent = here.post("/account", data=form)
    assert "The new password is set" in here.get(sent.location).text
    assert elsewhere.get("/account").location.startswith("/login")
    sent = here.post("/account", data={"password": PASSWORD, "csrf_token": csrf(page.text)})
    assert sent.status_code == 403  # that form was from before the new session


def test_a_code_sets_a_new_password_once(browser: FlaskClient, knows, lasting: Any) -> None:
    username = knows("forgetful")
    with lasting.database.write.begin() as session:
        code, _ = resets.issue_for_username(session, username)
    form = {"code": code, "password": NEW}
    done = browser.post("/reset", data=form)
    assert "The new password is set. Log in with it." in browser.get(done.location).text
    again = browser.post("/reset", data=form)
    assert again.status_code == 422
    assert "No such code: it may have been used, or have run out." in again.text
    assert browser.post("/login", data={"username": username, "password": NEW}).status_code == 302
    assert "the password was set with a" in browser.get("/account").text
    with lasting.database.read() as reading:
        assert reading.query(Account).filter_by(username=username).one().reset_at
