"""What the tests of pages share: an invented knitter's entries."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from itertools import islice
from typing import Any
from uuid import uuid4

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from models.actions.accounts import hashed, open_session
from models.domain.roles import Role
from models.tables.accounts import Account
from models.tables.people import Member, Person
from seed_demo import people as invented
from service.pages.filling import filled
from service.pages.kept import COOKIE, Kept
from service.pages.steps import STEPS
from service.sessions import csrf_token

TYPED = {
    "foot_length_mm": "25,2",
    "foot_circumference_mm": "23.6",
    "heel_diagonal_mm": "31,8 cm",
    "ankle_circumference_mm": "",
    "stitches_per_10cm": "30",
    "rounds_per_10cm": "42",
    "yarn_weight": "1",
}

PASSWORD = "four invented quiet words"  # noqa: S105 - of people who do not exist

Entries = Callable[..., Kept]


@pytest.fixture(scope="session")
def entries() -> Entries:
    """Return a function that answers every question, some in another way than usual."""

    def typed(**changed: str) -> Kept:
        kept, form = Kept(), {**TYPED, **changed}
        for step in STEPS:
            names = [*(quantity.name for quantity in step.fields), "width"]
            kept = filled(kept, step, {name: form[name] for name in names if name in form})
        return kept

    return typed


@pytest.fixture(scope="session")
def csrf() -> Callable[[str], str]:
    """Return a function that finds what the forms of a page send along."""

    def found(page: str) -> str:
        value = re.search(r'name="csrf_token" value="([0-9a-f]{64})"', page)
        return value[1] if value else ""

    return found


@pytest.fixture
def browser(lasting) -> FlaskClient:
    """Return a client with a jar of its own."""
    client: FlaskClient = lasting.app.test_client()
    return client


@pytest.fixture
def after_typing(browser: FlaskClient, entries: Entries) -> Callable[..., FlaskClient]:
    """Return a function that gives a client in which every question was answered."""

    def typed(**changed: str) -> FlaskClient:
        browser.set_cookie(COOKIE, entries(**changed).dump(), path="/ask")
        return browser

    return typed


@pytest.fixture(scope="session")
def knows(lasting: Any) -> Callable[[str], str]:
    """Return a function that gives the username of somebody with an account.

    Names of roles are members of `mine` in that role, other names are in no group.
    """
    known: dict[str, str] = {}
    password_hash = hashed(PASSWORD)

    def username(name: str) -> str:
        if name not in known:
            with lasting.database.write.begin() as session:
                person_id = _person_id(session, lasting, name)
                known[name] = f"invented.{name}"
                account = Account(username=known[name], password_hash=password_hash)
                account.person_id = person_id
                session.add(account)
        return known[name]

    return username


def _person_id(session: Any, lasting: Any, name: str) -> str:
    if name not in set(Role):
        person = Person()
        session.add(person)
        session.flush()
        return str(person.id)
    own = {"steward": lasting.mine.steward, "knitter": lasting.mine.knitter}
    group_id = lasting.mine.steward.group_id
    member = own.get(name) or lasting.member(group_id, f"Invented {name}", name)
    return str(session.get_one(Member, member.member_id).person_id)


@pytest.fixture
def logged_in(lasting: Any, knows: Callable[[str], str], browser: FlaskClient) -> Any:
    """Return a function that logs somebody in: first in `browser`, then in new ones."""
    clients = [browser]

    def log_in(name: str) -> FlaskClient:
        client: FlaskClient = clients.pop() if clients else lasting.app.test_client()
        client.delete_cookie("__Host-heeldepth")
        sent = client.post("/login", data={"username": knows(name), "password": PASSWORD})
        assert sent.status_code == 302, sent.text
        return client

    return log_in


class Pool:
    """A group with invented reports, seen by its steward through the API and through pages."""

    def __init__(self, lasting: Any) -> None:
        self.lasting, named = (
            lasting,
            {"name": "Invented dipper group", "steward": "Ottoline", "consent_version": 3},
        )
        made = lasting.client.post("/v1/groups", json=named).json
        with lasting.database.read() as session:
            member = session.query(Member).filter_by(group_id=made["id"]).one()
        own = {"group_id": made["id"], "member_id": member.id, "token": made["token"]}
        self.steward = replace(lasting.mine.steward, **own)
        self.browser, self.token = self._logged_in(str(member.person_id))

    @property
    def address(self) -> str:
        return f"/groups/{self.steward.group_id}"

    def someone(self) -> tuple[FlaskClient, str]:
        """Return the browser of somebody who is logged in and in no group, and a form's token."""
        with self.lasting.database.write.begin() as session:
            person = Person()
            session.add(person)
            session.flush()
            person_id = str(person.id)
        return self._logged_in(person_id)

    def _logged_in(self, person_id: str) -> tuple[FlaskClient, str]:
        with self.lasting.database.write.begin() as session:
            name = f"invented.{uuid4().hex[:8]}"
            row = Account(person_id=person_id, username=name, password_hash="none")  # noqa: S106
            session.add(row)
            session.flush()
            session_id = open_session(session, person_id)
        browser = self.lasting.app.test_client()
        browser.set_cookie("__Host-heeldepth", session_id, secure=True)
        return browser, csrf_token(session_id)

    def report(self, people: int, each: int = 3, own: int = 0) -> None:
        """Record socks of so many invented reporters, and some of the steward's own."""
        told = list(islice(invented.reports(), people * each + own))
        for number, one in enumerate(told):
            mine = number >= people * each
            who = {} if mine else {"reporter": f"Invented {number % people}"}
            sock = {name: value for name, value in one.items() if name != "reporter"}
            self.steward.make("/reports", {**sock, **who})

    def calibrated(self) -> dict[str, Any]:
        """Return a new calibration, which answers."""
        made = self.steward.make("/calibrations")
        if made["standing"] != "active":
            self.steward.post(f"/calibrations/{made['id']}/activation")
        return made

    def get(self, path: str) -> TestResponse:
        return self.browser.get(f"{self.address}{path}")

    def send(self, path: str, **form: Any) -> TestResponse:
        data = {"csrf_token": self.token, **form}
        return self.browser.post(f"{self.address}{path}", data=data)


@pytest.fixture
def pool(lasting: Any) -> Pool:
    """Return a group of its own whose steward is logged in."""
    return Pool(lasting)


@pytest.fixture(scope="session")
def known_pool(lasting: Any) -> tuple[Pool, dict[str, Any]]:
    """Return a group with 14 reporters and own socks, and its calibration; tests only read it."""
    pool = Pool(lasting)
    pool.report(14, each=5, own=3)
    return pool, pool.calibrated()
