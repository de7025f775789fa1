"""One's groups by pages: founding, joining, and who sees what of a group."""

from __future__ import annotations

import re
from typing import Any

import pytest
from flask.testing import FlaskClient

from models.domain import consent
from models.domain.roles import ALLOWED, Action, Role, may
from models.tables.accounts import Account
from models.tables.people import Person, Token
from service import pages
from service.access import DECLARED
from service.app import create_app
from service.config import Settings
from service.pages.navigation import WAYS

PASSWORD = "four invented quiet words"  # noqa: S105 - of people who do not exist
NEWCOMER = {"username": "newt.one", "password": PASSWORD}


def code_of(lasting: Any, **terms: Any) -> str:
    return str(lasting.mine.steward.make("/invitations", terms)["code"])


def test_somebody_new_founds_a_group_and_is_in_it(browser: FlaskClient) -> None:
    given = {"name": "Invented newt group", "steward": "Isolde", "consent_version": "3", **NEWCOMER}
    sent = browser.post("/groups/new", data=given)
    assert sent.status_code == 302
    page = browser.get(sent.location)
    assert "<h1>Invented newt group</h1>" in page.text
    assert "You are Isolde here, a steward." in page.text
    assert sent.location in browser.get("/groups").text


def test_somebody_new_joins_with_a_code_without_a_token(browser: FlaskClient, lasting: Any) -> None:
    code = code_of(lasting, role="designer")
    page = browser.get("/join").text
    for line in consent.TEXT:
        assert line in page
    with lasting.database.read() as reading:
        tokens = reading.query(Token).count()
    given = {"code": code, "name": "Teal", "username": "teal.one", "password": PASSWORD}
    sent = browser.post("/join", data={**given, "consent_version": "3"})
    assert "You are Teal here, a designer." in browser.get(sent.location).text
    with lasting.database.read() as reading:
        assert reading.query(Token).count() == tokens


def test_who_is_logged_in_joins_as_that_person(logged_in, csrf, lasting: Any) -> None:
    browser = logged_in("wanderer")
    assert "You are in no group yet." in browser.get("/groups").text
    page = browser.get("/join").text
    assert 'name="username"' not in page
    given = {"code": code_of(lasting), "name": "Wagtail", "consent_version": "3"}
    assert browser.post("/join", data=given).status_code == 403
    sent = browser.post("/join", data={**given, "csrf_token": csrf(page)})
    assert "You are Wagtail here, a knitter." in browser.get(sent.location).text


WRONG = {
    "no code": ({"code": ""}, "#code", "Invitation code: text of 1 to 200 characters"),
    "unknown code": ({"code": "nothing"}, "#code", "No such invitation"),
    "no consent": ({"consent_version": ""}, "#consent_version", "tick the box"),
    "no name": ({"name": ""}, "#name", "give the name that you will have in the group"),
    "name taken": ({"name": "Ottoline"}, "#name", "somebody in the group has that name"),
    "odd username": ({"username": "a b"}, "#username", "a username of 3 to 40 characters"),
    "short password": ({"password": "short"}, "#password", "a password of 12 to 200"),
}


@pytest.mark.parametrize("case", WRONG)
def test_nothing_is_made_of_a_form_that_is_refused(
    browser: FlaskClient, lasting: Any, case: str
) -> None:
    changed, link, said = WRONG[case]
    given = {"code": code_of(lasting), "name": "Avocet", "consent_version": "3"}
    given |= {"username": "avocet.one", "password": PASSWORD} | changed
    with lasting.database.read() as reading:
        before = (reading.query(Person).count(), reading.query(Account).count())
    page = browser.post("/join", data=given)
    assert page.status_code == 422
    assert re.search(rf'href="{link}">[^<]*{said}', page.text), page.text
    assert PASSWORD not in page.text
    with lasting.database.read() as reading:
        assert (reading.query(Person).count(), reading.query(Account).count()) == before


def test_a_username_that_somebody_has_uses_no_invitation(browser: FlaskClient, lasting, knows):
    code = code_of(lasting)
    given = {"code": code, "name": "Plover", "password": PASSWORD, "consent_version": "3"}
    page = browser.post("/join", data={**given, "username": knows("knitter")})
    assert "somebody has it: choose another" in page.text
    assert browser.post("/join", data={**given, "username": "plover.one"}).status_code == 302


def test_where_groups_are_made_by_the_operator_a_page_says_so(database_url: str) -> None:
    app = create_app(Settings(database_url, group_creation="closed"))
    client = app.test_client()
    assert "made by whoever keeps this service" in client.get("/groups/new").text
    given = {"name": "Invented", "steward": "Invented", **NEWCOMER}
    assert client.post("/groups/new", data=given).status_code == 422
    app.extensions["heeldepth"].close()


def group_pages(app: Any) -> list[tuple[str, str, Action]]:
    """Return method, rule and action of every page inside a group."""
    names = {blueprint.name for blueprint in pages.BLUEPRINTS}
    found = []
    for rule in app.url_map.iter_rules():
        if rule.endpoint.partition(".")[0] in names and "group_id" in rule.arguments:
            action = getattr(app.view_functions[rule.endpoint], DECLARED)
            found += [(m, rule.rule, action) for m in rule.methods & {"GET", "POST"}]
    return sorted(found, key=str)


def address_of(rule: str, group_id: str) -> str:
    """Return an address of a rule, with ids that nothing has."""
    return re.sub(r"<[^>]*>", "0" * 32, rule.replace("<hexid:group_id>", group_id))


def test_every_page_of_a_group_is_shown_to_the_roles_of_the_table(
    lasting: Any, logged_in, csrf
) -> None:
    found = group_pages(lasting.app)
    assert found
    for role in Role:
        browser = logged_in(role.value)
        token = csrf(browser.get("/groups").text)
        for method, rule, action in found:
            address = address_of(rule, lasting.mine.steward.group_id)
            page = browser.open(address, method=method, data={"csrf_token": token})
            refused = page.status_code == 403
            assert refused is not may(role, action), (role, method, rule, page.status_code)
    assert {action for *_, action in found} <= set(ALLOWED)


ASSETS = re.compile(r'(?:href|src)="(/static/[^"]+)"')


@pytest.mark.parametrize("path", ["", "/tell", "/tell/sock", "/socks", "/suggestions"])
def test_every_page_of_a_group_is_under_60_kb_with_all_it_loads(
    lasting: Any, logged_in, path: str
) -> None:
    browser = logged_in("steward")
    page = browser.get(f"/groups/{lasting.mine.steward.group_id}{path}")
    assert page.status_code == 200
    loaded = 0
    for address in ASSETS.findall(page.text):
        with browser.get(address) as file:
            loaded += len(file.data)
    assert loaded > 10_000
    assert len(page.data) + loaded < 60_000


def test_groups_of_others_and_no_groups_look_alike(lasting: Any, logged_in, csrf) -> None:
    browser = logged_in("steward")
    token = csrf(browser.get("/groups").text)
    for method, rule, _ in group_pages(lasting.app):
        answers = [
            browser.open(address_of(rule, group), method=method, data={"csrf_token": token})
            for group in (lasting.theirs.steward.group_id, "0" * 32)
        ]
        said = [(answer.status_code, answer.data) for answer in answers]
        assert said[0] == said[1]
        assert said[0][0] == 404


def test_nobody_sees_a_page_of_a_group_without_logging_in(
    lasting: Any, browser: FlaskClient
) -> None:
    for method, rule, _ in group_pages(lasting.app):
        address = address_of(rule, lasting.mine.steward.group_id)
        assert browser.open(address, method=method).location.startswith("/login")


def test_the_navigation_shows_what_a_role_may_do(lasting: Any, logged_in) -> None:
    address = f"/groups/{lasting.mine.steward.group_id}"
    for role in Role:
        page = logged_in(role.value).get(address).text
        for way in WAYS:
            assert (f">{way.words}</a>" in page) is may(role, way.action), (role, way)
        assert (">Invite people</a>" in page) is may(role, Action.INVITE), role
