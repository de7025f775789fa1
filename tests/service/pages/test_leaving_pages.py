"""Taking one's data along and being erased, by pages. All people in it are invented."""

from __future__ import annotations

import io
import json
import zipfile
from typing import Any

import pytest
from flask.testing import FlaskClient

from models.actions.accounts import hashed
from models.tables.accounts import Account
from models.tables.people import Member
from service import erasing
from service.pages.kept import COOKIE
from tests.service.pages.conftest import PASSWORD

ADDRESS = "/account/data"


@pytest.fixture
def member(pool) -> Any:
    """Return the browser of a designer with a sock, and a function that sends the form."""
    code = pool.steward.make("/invitations", {"role": "designer"})["code"]
    browser, token = pool.someone()
    given = {"code": code, "name": "Wagtail", "consent_version": "3", "csrf_token": token}
    assert browser.post("/join", data=given).status_code == 302
    with pool.lasting.database.write.begin() as session:
        who = session.query(Member).filter_by(group_id=pool.steward.group_id, name="Wagtail").one()
        account = session.query(Account).filter_by(person_id=who.person_id).one()
        account.password_hash = hashed(PASSWORD)
        place = str(who.id)

    def send(password: str, chosen: str) -> Any:
        data = {"csrf_token": token, "password": password, "place": chosen}
        return browser.post(ADDRESS, data=data)

    return browser, place, send


def names(pool) -> set[str]:
    return {one["name"] for one in pool.steward.items("/members")}


def test_the_page_leads_to_everything_about_oneself(member) -> None:
    browser: FlaskClient = member[0]
    page = browser.get(ADDRESS).text
    assert "/v1/me?form=csv" in page
    archive = zipfile.ZipFile(io.BytesIO(browser.get("/v1/me?form=csv").data))
    assert "members.csv" in archive.namelist()
    assert "Wagtail" in json.dumps(browser.get("/v1/me?form=json").json)


def test_a_place_is_erased_with_the_password_and_the_account_stays(pool, member) -> None:
    browser, place, send = member
    for wrong in ("four other quiet words", ""):
        refused = send(wrong, place)
        assert refused.status_code == 422
        assert 'href="#password">Password: this is not your password.</a>' in refused.text
    assert "Wagtail" in names(pool)
    done = send(PASSWORD, place)
    assert (done.status_code, done.location) == (302, f"{ADDRESS}?done=erased")
    assert "Wagtail" not in names(pool)
    assert "It is erased" in browser.get(done.location).text
    assert pool.steward.group_id not in browser.get("/groups").text


def test_an_account_is_erased_everywhere_and_logged_out(pool, member) -> None:
    browser, _, send = member
    browser.set_cookie(COOKIE, "typed", path="/ask")
    done = send(PASSWORD, "everywhere")
    assert browser.get_cookie(COOKIE, path="/ask") is None, "what was typed goes too"
    assert "Your account and everything of yours is erased." in browser.get(done.location).text
    assert "Wagtail" not in names(pool)
    assert browser.get(ADDRESS).location.startswith("/login")


@pytest.mark.parametrize("chosen", ["", "somebody", "0" * 32])
def test_what_is_not_ones_own_is_not_erased(pool, member, chosen: str) -> None:
    before = names(pool)
    assert member[2](PASSWORD, chosen).status_code == 422
    assert names(pool) == before


def test_who_chose_nothing_is_asked_to_choose_where_that_is_done(member) -> None:
    page = member[2](PASSWORD, "").text
    assert '<a href="#place">Choose what is to be erased.</a>' in page
    assert page.index('id="place-fault"') < page.index('type="password"')
    assert 'id="password-fault"' not in page


def test_the_last_steward_is_told_why_not(pool) -> None:
    pool.report(2)
    with pool.lasting.database.write.begin() as session:
        who = session.query(Member).filter_by(id=pool.steward.member_id).one()
        account = session.query(Account).filter_by(person_id=who.person_id).one()
        account.password_hash = hashed(PASSWORD)
    pool.report(1)
    code = pool.steward.make("/invitations", {"role": "knitter"})["code"]
    other, token = pool.someone()
    given = {"code": code, "name": "Wagtail", "consent_version": "3", "csrf_token": token}
    assert other.post("/join", data=given).status_code == 302
    data = {"csrf_token": pool.token, "password": PASSWORD, "place": pool.steward.member_id}
    refused = pool.browser.post(ADDRESS, data=data)
    assert refused.status_code == 422
    assert "steward" in refused.text


def test_who_meets_others_that_always_report_in_a_large_group_is_told_to_try_later(
    pool, member, monkeypatch
) -> None:
    before = names(pool)
    monkeypatch.setattr(erasing, "MOST_AT_ONCE", -1)
    monkeypatch.setattr(erasing, "erase", lambda *_given, **_more: None)
    refused = member[2](PASSWORD, "everywhere")
    assert refused.status_code == 422
    assert "try again when fewer report" in refused.text
    assert names(pool) == before
