"""The service on a database of its own, with two invented groups; nobody in them exists."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, fields, replace
from pathlib import Path
from shutil import copyfile
from typing import Any
from uuid import uuid4

import numpy as np
import pytest
from flask.testing import FlaskClient
from sqlalchemy import func
from werkzeug.test import TestResponse

from models.actions import tokens
from models.learning.calibration import geometry_alone
from models.learning.factor import Factor
from models.learning.summary import FORM
from models.learning.terms import TERM_NAMES
from models.tables.accounts import Account
from models.tables.learned import Activation, Calibration
from models.tables.people import Member, Person
from service import results
from service.app import Service, create_app
from service.config import Settings
from service.problems import TITLES
from tests.service.redis_server import RedisServer, found

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


class Reading(FlaskClient):
    """Reads answers to their end, as servers do: one in pieces holds a connection until then."""

    def open(self, *args: Any, buffered: bool = True, **options: Any) -> TestResponse:
        return super().open(*args, buffered=buffered, **options)


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

    def summary(self, **changed: Any) -> dict[str, Any]:
        told = {"term": "intercept", "estimate": 0.25, "precision": 20.0}
        header = {"form": FORM, "origin": "0" * 32, "people": 60, "reports": 720}
        return self._changed({**header, "coefficients": [told]}, changed)

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


def _a_member(who: Asking, world: World) -> str:
    """Return the id of a member who may be changed: somebody else where there are others to see."""
    fresh = world.member(who.group_id, f"Invented {uuid4().hex}", "knitter")
    with world.database.write.begin() as session:
        person_id = session.get_one(Member, fresh.member_id).person_id
        name = f"invented.{uuid4().hex[:8]}"
        session.add(Account(person_id=person_id, username=name, password_hash="invented"))  # noqa: S106
    return fresh.member_id


def _a_reporter(who: Asking, world: World) -> str:
    """Return the id of a reporter who has not joined and has a report."""
    name = f"Invented {uuid4().hex}"
    who.make("/reports", world.report(reporter=name))
    with world.database.read() as session:
        return session.query(Member).filter_by(group_id=who.group_id, name=name).one().id


def _a_design(who: Asking, world: World) -> str:
    made = who.make("/designs", {"name": f"Invented {uuid4().hex}"})
    world.designs[who.group_id] = str(made["id"])
    _a_size(who, world)
    return world.designs[who.group_id]


def _a_size(who: Asking, world: World) -> str:
    """Return the id of a size whose rounds are not what anybody would suggest."""
    return _of_a_design(
        who, world, "sizes", world.size(label=uuid4().hex[:8], slow_decrease_rounds=0)
    )


def _of_a_design(who: Asking, world: World, kind: str, body: Any = None) -> str:
    path = f"/designs/{world.designs[who.group_id]}/{kind}"
    return str(who.make(path, body)["id"])


def _an_adoption(who: Asking, world: World) -> str:
    _a_size(who, world)
    return _of_a_design(who, world, "adoptions")


def _a_summary(who: Asking, world: World) -> str:
    body = world.summary(origin=uuid4().hex)
    return str(who.make("/wider-pool/summaries", body)["id"])


def _a_job(who: Asking, world: World) -> str:
    """Return the id of an export that has been made, and whose file is there."""
    job_id = str(who.post("/exports").json["id"])
    world.work()
    return job_id


def _a_waiting_job(who: Asking, _: World) -> str:
    return str(who.post("/exports").json["id"])


MAKERS: dict[str, Callable[[Asking, World], str]] = {
    "foot_id": lambda who, world: str(who.make("/feet", world.foot())["id"]),
    "report_id": lambda who, world: str(who.make("/reports", world.report())["id"]),
    "calibration_id": lambda who, _: str(who.make("/calibrations")["id"]),
    "suggestion_id": lambda who, world: str(who.make("/suggestions", world.question())["id"]),
    "member_id": _a_member,
    "invitation_id": lambda who, _: str(who.make("/invitations")["id"]),
    "code": lambda who, _: str(who.make("/invitations")["code"]),
    "token_id": lambda who, _: str(who.make("/v1/tokens", {"label": "spare"})["id"]),
    "design_id": _a_design,
    "size_id": _a_size,
    "adoption_id": _an_adoption,
    "place_id": lambda who, _: who.member_id,
    "reporter_id": _a_reporter,
    "summary_id": _a_summary,
    "job_id": _a_job,
}
"""How a steward makes the thing that a path parameter names; what is inside a design comes after
it and belongs to the one made last."""


@dataclass(frozen=True)
class Operation:
    """One operation of the OpenAPI document, with a body that it takes."""

    method: str
    path: str
    told: dict[str, Any]
    options: dict[str, Any]

    @property
    def in_group(self) -> bool:
        return "{group_id}" in self.path

    @property
    def is_open(self) -> bool:
        return self.told.get("security") == []

    @property
    def takes_anybody(self) -> bool:
        """Whether it is for people without a token as well."""
        return self.is_open or {} in self.told.get("security", [])

    @property
    def parameters(self) -> list[str]:
        return [name for name in re.findall(r"{(\w+)}", self.path) if name != "group_id"]

    def __str__(self) -> str:
        return f"{self.method} {self.path}"


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
        self.designs: dict[str, str] = {}
        self.mine = self._group("Invented heron group")
        self.theirs = self._group("Invented otter group")

    def _group(self, name: str) -> People:
        body = {"name": name, "steward": "Ottoline", "consent_version": 3}
        founded = self.client.post("/v1/groups", json=body).json
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

    def well_known(self, who: Asking, people: int = 60, **changed: Any) -> str:
        """Let a calibration of that many people answer in a group, and return its id."""
        told = Factor(np.full(len(TERM_NAMES), 20.0), np.full(len(TERM_NAMES), 0.25))
        fitted = replace(geometry_alone(), reports=people, reporters=people, alone=told)
        with self.database.write.begin() as session:
            last = session.query(func.max(Calibration.number)).filter_by(group_id=who.group_id)
            row = Calibration(
                group_id=who.group_id,
                number=(last.scalar() or 0) + 1,
                reports=people,
                reporters=people,
                fingerprint="0" * 64,
                artefact=fitted.to_json(),
                **{"published": True, **changed},
            )
            session.add(row)
            session.flush()
            session.add(Activation(group_id=who.group_id, calibration_id=row.id))
            return row.id

    def bodies(self) -> dict[str, Any]:
        """Return a body that would be taken, by the name of its schema."""
        account = {"username": "invented.username", "password": "invented password"}
        return {
            "NewFoot": self.foot(),
            "NewReport": self.report(),
            "ReportChange": {"fit_score": 1},
            "NewReview": {"status": "held", "from": "counted"},
            "NewCalibration": {},
            "NewActivation": {},
            "NewRollback": {},
            "NewSuggestion": self.question(),
            "NewSchedule": self.schedule(),
            "NewGroup": {"name": "Invented newts", "steward": "Isolde", "consent_version": 3},
            "NewInvitation": {"role": "knitter", "uses": 2, "days": 3},
            "NewMember": {"name": f"Invented {uuid4().hex}", "consent_version": 3},
            "MemberChange": {"role": "designer"},
            "NewToken": {"label": "invented", "scopes": ["read"], "days": 2},
            "NewAccount": {**account, "username": f"invented.{uuid4().hex[:8]}"},
            "NewSession": account,
            "NewPassword": {"code": "heeldepth_reset_invented", "password": "invented password"},
            "NewReset": {},
            "NewErasure": {},
            "NewDesign": {"name": f"Invented {uuid4().hex}"},
            "DesignChange": {"name": f"Invented {uuid4().hex}"},
            "NewSize": self.size(label=uuid4().hex[:8]),
            "SizeChange": {"slow_decrease_rounds": 2},
            "NewAdoption": {},
            "NewReversal": {},
            "NewContribution": {},
            "NewPoolUse": {},
            "NewSummary": self.summary(origin=uuid4().hex),
            "NewExport": {"form": "jsonl"},
            "NewCancellation": {},
        }

    def size_table(self) -> str:
        """Return a file that holds one size."""
        size = self.size(label=uuid4().hex[:8])
        return f"{','.join(size)}\n{','.join(map(str, size.values()))}\n"

    def report_table(self) -> str:
        """Return a file that holds one report."""
        foot, sock = FOOT | {"heel_diagonal_mm": "", "ankle_circumference_mm": ""}, self.schedule()
        row = {"reporter": uuid4().hex[:8], **foot, **sock, "yarn_weight": 1, "fit_score": 0}
        return f"{','.join(row)}\n{','.join(map(str, row.values()))}\n"

    def work(self) -> None:
        """Do all work in the background that waits, in this thread."""
        queue = self.app.extensions["heeldepth_jobs"].queue
        while task := queue.dequeue():
            queue.execute(task)

    def operations(self) -> list[Operation]:
        """Return every operation of the document, each with a body that it takes."""
        bodies = self.bodies()
        found = []
        for path, item in self.client.get("/openapi.json").json["paths"].items():
            for method, told in item.items():
                if method != "parameters":
                    options: dict[str, Any] = {"headers": {"If-Match": "*"}}
                    content = told.get("requestBody", {}).get("content", {})
                    if "application/json" in content:
                        schema = content["application/json"]["schema"]
                        options["json"] = bodies[schema["$ref"].rsplit("/", 1)[-1]]
                    elif content:
                        table = self.size_table if "size-table" in path else self.report_table
                        options |= {"data": table(), "content_type": "text/csv"}
                    found.append(Operation(method.upper(), path, told, options))
        return found

    def things(self, who: Asking, names: Iterable[str] = MAKERS) -> dict[str, str]:
        """Return the id of one thing of each kind that a steward made, by path parameter."""
        return {name: MAKERS[name](who, self) for name in names}


def settings(url: str) -> Settings:
    """Return settings under which a test is not taken for somebody who tries things out."""
    often = "1000000 per hour"
    limits = [field.name for field in fields(Settings) if field.name.endswith("_limit")]
    return Settings(url, **dict.fromkeys(limits, often))


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wait for results as long as it takes, however busy this machine is."""
    monkeypatch.setattr(results, "PATIENCE_S", 60.0)


@pytest.fixture
def app(database_url: str) -> Iterator[Service]:
    """Yield the application on an upgraded database without rows, on each backend."""
    app = create_app(settings(database_url))
    app.test_client_class = Reading
    yield app
    app.extensions["heeldepth"].close()


@pytest.fixture
def client(app: Service) -> FlaskClient:
    return app.test_client()


@pytest.fixture
def world(app: Service) -> World:
    return World(app)


@pytest.fixture
def redis_server() -> Iterator[RedisServer]:
    """Yield a Redis with nothing in it."""
    server = found()
    server.start()
    yield server
    server.stop()


@pytest.fixture(scope="session")
def lasting(migrated_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    """Yield a world on SQLite for the whole session, where it does not matter what was there."""
    file = tmp_path_factory.mktemp("lasting") / "heeldepth.db"
    copyfile(migrated_file, file)
    app = create_app(settings(f"sqlite:///{file}"))
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
