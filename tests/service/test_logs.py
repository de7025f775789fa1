"""What is sent to the service is in no log, and in no error but the sender's own.

Answered for are all loggers at their own levels, ours and the libraries', with everything that
reaches the root logger taken down. An operator who switches SQLAlchemy's echo on sees statements;
`hide_parameters` keeps values out of them.
"""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Iterator
from typing import Any

import pytest
from sqlalchemy.exc import IntegrityError, OperationalError

from models.actions import acceptance, feet, reports
from models.tables.socks import Foot
from seed_demo.client import Client, Refused
from seed_demo.server import HOST, running

CANARY = "canary7Zr"
NUMBER = 987654321.125


@pytest.fixture
def log(caplog: pytest.LogCaptureFixture) -> pytest.LogCaptureFixture:
    caplog.set_level(logging.DEBUG)
    for name in ("waitress", "werkzeug", "flask", "flask_smorest", "service", "limits", "alembic"):
        caplog.set_level(logging.DEBUG, name)
    return caplog


def with_canaries(value: Any) -> Iterator[Any]:
    """Yield a body with every field replaced in turn, in ways that are taken and that are not."""
    for name, inner in value.items():
        if isinstance(inner, dict):
            yield from ({**value, name: one} for one in with_canaries(inner))
        yield {**value, name: CANARY}
        yield {**value, name: NUMBER}
        yield {**value, name: [CANARY], CANARY: CANARY}


def asked(world: Any, one: Any, body: Any) -> Any:
    ids = {name: "0" * 32 for name in one.parameters if name != "code"}
    path = one.path.format(group_id=world.mine.steward.group_id, code=CANARY, **ids)
    headers = {
        "If-Match": f'"{CANARY}"',
        "If-None-Match": f'"{CANARY}"',
        "Idempotency-Key": f"{CANARY} {one} {body}"[:250],
        "Authorization": f"Bearer {world.mine.steward.token}",
        "User-Agent": CANARY,
        "Cookie": f"__Host-heeldepth={CANARY}",
    }
    path = f"{path}?{CANARY}={CANARY}"
    return world.client.open(path, method=one.method, json=body, headers=headers)


def test_no_log_holds_what_was_sent_in_any_field_header_or_path(world: Any, log: Any) -> None:
    statuses = set()
    for one in world.operations():
        for body in with_canaries(one.options.get("json") or {"none": 1}):
            statuses.add(asked(world, one, body).status_code)
    assert statuses >= {201, 404, 422}
    assert 500 not in statuses
    assert CANARY not in log.text
    assert str(NUMBER) not in log.text
    for who in (world.mine.steward, world.mine.knitter, world.theirs.steward):
        assert who.token not in log.text


def test_an_error_names_nothing_but_what_the_sender_sent(world: Any) -> None:
    secrets = {"notes": "canary of the knitter", "reporter": ..., "design": "canary design"}
    made = world.mine.knitter.make("/reports", world.report(**secrets))
    for one in world.operations():
        ids = dict.fromkeys(one.parameters, made["id"])
        path = one.path.format(group_id=world.mine.steward.group_id, **ids)
        for body in with_canaries(one.options.get("json") or {"none": 1}):
            answer = world.mine.steward.ask(one.method, path, json=body, headers={"If-Match": "*"})
            if answer.status_code >= 400:
                assert "canary of" not in answer.text, str(one)
                assert "canary design" not in answer.text, str(one)
                assert world.mine.steward.token not in answer.text


BREAKING = [
    RuntimeError(CANARY),
    OperationalError(f"SELECT '{CANARY}'", {"a": CANARY}, sqlite3.OperationalError(CANARY)),
    IntegrityError("INSERT", {"a": CANARY}, sqlite3.IntegrityError(CANARY)),
]


@pytest.mark.parametrize("error", BREAKING, ids=lambda one: type(one).__name__)
def test_what_breaks_is_logged_without_what_was_sent(
    world: Any, log: Any, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    def broken(*_given: Any, **_more: Any) -> Any:
        raise error

    for module, name in ((feet, "record_foot"), (reports, "record_report"), (acceptance, "accept")):
        monkeypatch.setattr(module, name, broken)
    path = f"/v1/invitations/{CANARY}/acceptance"
    answers = [
        world.mine.knitter.post("/feet", world.foot(label=CANARY)),
        world.mine.knitter.post("/reports", world.report(notes=CANARY)),
        world.client.post(path, json={"name": CANARY, "consent_version": 3}),
    ]
    assert all(one.status_code >= 409 for one in answers)
    assert all(CANARY not in one.text for one in answers)
    assert len(log.records) >= 3, "where it broke is logged"
    assert CANARY not in log.text


def test_a_value_that_the_database_refuses_is_not_in_its_error(world: Any) -> None:
    foot = Foot(
        group_id=CANARY,
        member_id=CANARY,
        label=CANARY,
        foot_length_mm=250.0,
        foot_circumference_mm=230.0,
    )
    with pytest.raises(IntegrityError) as caught, world.database.write.begin() as session:
        session.add(foot)
    assert "hidden due to hide_parameters" in str(caught.value)
    assert f"'{CANARY}'" not in str(caught.value).split("DETAIL")[0]


def test_the_server_logs_no_path(world: Any, log: Any) -> None:
    with running(world.app.config["HEELDEPTH"]) as port, Client(HOST, port, CANARY) as client:
        body = {"name": CANARY, "consent_version": 3}
        for path in (f"/v1/invitations/{CANARY}/acceptance", f"/{CANARY}"):
            with pytest.raises(Refused):
                client.post(path, body)
    assert CANARY not in log.text
