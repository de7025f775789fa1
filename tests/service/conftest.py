"""The service on a database of its own, with two invented groups; nobody in them exists."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from shutil import copyfile
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from models.actions import tokens
from models.tables.people import Member, Person
from service.app import Service, create_app
from service.config import Settings
from service.problems import TITLES

FOOT = {"foot_length_mm": 250, "foot_circumference_mm": 230}
GAUGE = {"stitches_per_10cm": 30, "rounds_per_10cm": 42}
SIZE = {
    "label": "S",
    "foot_length_low_mm": 230,
    "foot_length_high_mm": 250,
    "foot_circumference_low_mm": 215,
    "foot_circumference_high_mm": 235,
    "yarn_weight": 1,
    **GAUGE,
    "heel_stitches": 60,
    "closing_stitches": 16,
    "medium_decrease_rounds": 4,
    "plain_rounds": 3,
    "slow_decrease_rounds": 3,
}
COUNTS = {
    "plain_rounds": 3,
    "slow_decrease_rounds": 3,
    "medium_decrease_rounds": 4,
    "fast_decrease_rounds": 4,
}


class Samples:
    """Bodies that the service takes, each with some fields changed; `...` leaves one out."""

    @staticmethod
    def _changed(body: dict[str, Any], changed: dict[str, Any]) -> dict[str, Any]:
        return {name: value for name, value in (body | changed).items() if value is not ...}

    def foot(self, **changed: Any) -> dict[str, Any]:
        return self._changed(FOOT, changed)

    def schedule(self, **changed: Any) -> dict[str, Any]:
        return self._changed({"heel_stitches": 64, **COUNTS, **GAUGE}, changed)

    def report(self, **changed: Any) -> dict[str, Any]:
        sock = {"yarn_weight": 1, "fit_score": 0, "foot": FOOT}
        return self._changed({**self.schedule(), **sock}, changed)

    def size(self, **changed: Any) -> dict[str, Any]:
        return self._changed(SIZE, changed)

    def question(self, **changed: Any) -> dict[str, Any]:
        heel = {"heel_stitches": 64, "closing_stitches": 16, "medium_decrease_rounds": 4}
        return self._changed({"foot": FOOT, "yarn_weight": 1, **GAUGE, **heel}, changed)


@dataclass(frozen=True)
class Asking:
    """A member of a group who asks for paths inside it, or for whole paths under /v1."""

    client: FlaskClient
    group_id: str
    member_id: str
    name: str
    token: str

    def ask(self, method: str, path: str, **options: Any) -> TestResponse:
        headers = {"Authorization": f"Bearer {self.token}", **options.pop("headers", {})}
        whole = path if path.startswith("/v1") else f"/v1/groups/{self.group_id}{path}"
        return self.client.open(whole, method=method, headers=headers, **options)

    def get(self, path: str, **headers: str) -> TestResponse:
        return self.ask("GET", path, headers=_spelt(headers))

    def post(self, path: str, body: Any = None, **headers: str) -> TestResponse:
        return self._send("POST", path, {} if body is None else body, headers)

    def patch(self, path: str, body: Any, **headers: str) -> TestResponse:
        return self._send("PATCH", path, body, headers)

    def _send(self, method: str, path: str, body: Any, headers: dict[str, str]) -> TestResponse:
        text = json.dumps(body)  # the standard's own: the client's refuses large numbers
        options = {"data": text, "content_type": "application/json"}
        return self.ask(method, path, headers=_spelt(headers), **options)

    def delete(self, path: str, **headers: str) -> TestResponse:
        return self.ask("DELETE", path, headers=_spelt(headers))

    def make(self, path: str, body: Any = None) -> dict[str, Any]:
        """Return what a POST created."""
        answer = self.post(path, body)
        assert answer.status_code == 201, answer.text
        made: dict[str, Any] = answer.json
        return made

    def items(self, path: str) -> list[dict[str, Any]]:
        """Return the items of the first page at a path."""
        listed: list[dict[str, Any]] = self.get(path).json["items"]
        return listed


def _spelt(headers: dict[str, str]) -> dict[str, str]:
    return {name.replace("_", "-"): value for name, value in headers.items()}


@dataclass(frozen=True)
class People:
    """A group, seen by its steward and by one of its knitters."""

    steward: Asking
    knitter: Asking


class World(Samples):
    """A service with two groups, `mine` and `theirs`, each with a steward and a knitter."""

    def __init__(self, app: Service) -> None:
        self.app = app
        self.client = app.test_client()
        self.database = app.extensions["heeldepth"]
        self.mine = self._group("Invented heron group")
        self.theirs = self._group("Invented otter group")

    def _group(self, name: str) -> People:
        founded = self.client.post("/v1/groups", json={"name": name, "steward": "Ottoline"}).json
        with self.database.read() as session:
            steward = session.query(Member).filter_by(group_id=founded["id"]).one()
        first = Asking(self.client, founded["id"], steward.id, "Ottoline", founded["token"])
        return People(first, self.member(founded["id"], "Kestrel", "knitter"))

    def member(self, group_id: str, name: str, role: str) -> Asking:
        """Return a new person with a token, member of a group in a role."""
        with self.database.write.begin() as session:
            person = Person()
            session.add(person)
            session.flush()
            member = Member(group_id=group_id, person_id=person.id, name=name, role=role)
            session.add(member)
            token = tokens.issue(session, person.id, "invented")
        return Asking(self.client, group_id, member.id, name, token)


@pytest.fixture
def app(database_url: str) -> Iterator[Service]:
    """Yield the application on an upgraded database without rows, on each backend."""
    app = create_app(Settings(database_url))
    yield app
    app.extensions["heeldepth"].close()


@pytest.fixture
def client(app: Service) -> FlaskClient:
    return app.test_client()


@pytest.fixture
def world(app: Service) -> World:
    return World(app)


@pytest.fixture(scope="session")
def lasting(migrated_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    """Yield a world on SQLite for the whole session, where it does not matter what was there."""
    file = tmp_path_factory.mktemp("lasting") / "heeldepth.db"
    copyfile(migrated_file, file)
    app = create_app(Settings(f"sqlite:///{file}"))
    yield World(app)
    app.extensions["heeldepth"].close()


@pytest.fixture(scope="session")
def is_problem() -> Callable[[TestResponse, int], dict[str, Any]]:
    """Return a check that an answer is a problem of a status, which returns its body."""

    def check(answer: TestResponse, status: int) -> dict[str, Any]:
        assert answer.status_code == status, answer.text
        assert answer.mimetype == "application/problem+json"
        body: dict[str, Any] = answer.json
        assert body["status"] == status
        assert body["title"] == TITLES[status]
        assert body["type"].startswith("urn:heeldepth:problem:")
        assert body["detail"]
        return body

    return check


@pytest.fixture(scope="session")
def faults(
    is_problem: Callable[[TestResponse, int], dict[str, Any]],
) -> Callable[[TestResponse], dict[str, str]]:
    """Return a check that an answer is a 422, which returns pointers with what was wanted."""

    def check(answer: TestResponse) -> dict[str, str]:
        body = is_problem(answer, 422)
        assert all({"pointer", "value", "wanted", "detail"} == set(e) for e in body["errors"])
        return {error["pointer"]: error["wanted"] for error in body["errors"]}

    return check
