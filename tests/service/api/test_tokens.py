"""A person's own tokens. All names are invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import event

from models.actions.tokens import PREFIX, digest
from models.domain import codes
from models.tables.base import now
from models.tables.people import Token
from service import last_used


def made(who: Any, **given: Any) -> dict[str, Any]:
    return dict(who.make("/v1/tokens", {"label": "invented", **given}))


def test_a_token_is_shown_once_and_listed_without_itself(world: Any) -> None:
    token = made(world.mine.knitter, label="shelf", scopes=["report", "read", "read"], days=2)
    assert codes.well_formed(PREFIX, token["token"])
    assert token["scopes"] == ["read", "report"]
    ends = datetime.fromisoformat(token["expires_at"])
    assert abs(ends - now() - timedelta(days=2)) < timedelta(minutes=1)
    listed = world.mine.knitter.get("/v1/tokens")
    assert [one["label"] for one in listed.json["items"]] == ["invented", "shelf"]
    assert PREFIX not in listed.text
    assert digest(token["token"]) not in listed.text


def test_a_token_is_good_for_everything_and_ever_unless_said_otherwise(world: Any) -> None:
    token = made(world.mine.knitter)
    assert token["scopes"] == ["read", "report", "design", "steward"]
    assert token["expires_at"] is None
    again = replace(world.mine.knitter, token=token["token"])
    assert made(again, label="by the new one")["token"] != token["token"]


def test_a_scope_never_widens_a_role(world: Any, is_problem: Any) -> None:
    who = replace(world.mine.knitter, token=made(world.mine.knitter, scopes=["steward"])["token"])
    assert "a knitter may not" in is_problem(who.post("/invitations"), 403)["detail"]


def test_a_token_that_is_not_for_everything_makes_no_other(world: Any, is_problem: Any) -> None:
    scopes = ["read", "report", "steward"]
    who = replace(world.mine.steward, token=made(world.mine.steward, scopes=scopes)["token"])
    assert who.get("/invitations").status_code == 200
    for answer in (
        who.post("/v1/tokens", {"label": "stronger"}),
        who.post("/v1/accounts", {"username": "wren.one", "password": "invented password"}),
        who.post("/v1/groups", {"name": "Invented", "steward": "Isolde", "consent_version": 3}),
        who.delete("/members/me"),
    ):
        assert "this token may not" in is_problem(answer, 403)["detail"]


@pytest.mark.parametrize(("days", "fine"), [(1, True), (2, False), (3, False), (None, False)])
def test_no_token_outlives_the_one_that_makes_it(
    world: Any, faults: Any, days: int | None, *, fine: bool
) -> None:
    who = replace(world.mine.knitter, token=made(world.mine.knitter, days=2)["token"])
    answer = who.post("/v1/tokens", {"label": "child", "days": days})
    if fine:
        assert answer.status_code == 201
    else:
        assert "before the token that asks does" in faults(answer)["/days"]


def test_a_revoked_token_is_gone_from_the_list_and_cannot_be_revoked_again(
    world: Any, is_problem: Any
) -> None:
    knitter = world.mine.knitter
    token = made(knitter)
    assert knitter.delete(f"/v1/tokens/{token['id']}").status_code == 204
    assert token["id"] not in [one["id"] for one in knitter.get("/v1/tokens").json["items"]]
    is_problem(knitter.delete(f"/v1/tokens/{token['id']}"), 404)


def test_a_token_can_revoke_itself(world: Any, is_problem: Any) -> None:
    knitter = world.mine.knitter
    [own] = [one["id"] for one in knitter.get("/v1/tokens").json["items"]]
    assert knitter.delete(f"/v1/tokens/{own}").status_code == 204
    is_problem(knitter.get("/v1/tokens"), 401)


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"scopes": []}, "/scopes"),
        ({"scopes": ["read", "everything"]}, "/scopes/1"),
        ({"scopes": "read"}, "/scopes"),
        ({"scopes": None}, "/scopes"),
        ({"days": 0}, "/days"),
        ({"label": ""}, "/label"),
    ],
)
def test_a_token_that_cannot_be_says_what_can(
    lasting: Any, faults: Any, wrong: dict[str, Any], pointer: str
) -> None:
    found = faults(lasting.mine.knitter.post("/v1/tokens", {"label": "invented", **wrong}))
    assert list(found) == [pointer]


def used(world: Any, who: Any) -> datetime | None:
    with world.database.read() as session:
        row = session.query(Token).filter_by(digest=digest(who.token)).one()
    moment: datetime | None = row.last_used_at
    return moment


def test_the_last_use_of_a_token_is_noted_at_most_once_a_minute(
    world: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    knitter = world.mine.knitter
    assert used(world, knitter) is None
    knitter.get("/feet")
    first = used(world, knitter)
    assert first is not None
    assert now() - first < timedelta(minutes=1)
    written: list[str] = []
    for engine in world.database.engines:
        event.listen(engine, "before_cursor_execute", lambda *given: written.append(given[2]))
    knitter.get("/feet")
    assert used(world, knitter) == first
    assert not [one for one in written if one.startswith("UPDATE")]
    monkeypatch.setattr(last_used, "GAP", timedelta(0))
    knitter.get("/feet")
    later = used(world, knitter)
    assert later is not None
    assert later > first


@pytest.mark.only_on("sqlite")
def test_a_reader_does_not_wait_to_note_a_use_while_somebody_writes(world: Any) -> None:
    knitter = world.mine.knitter
    with world.database.write.begin() as session:
        session.connection()
        started = now()
        assert knitter.get("/feet").status_code == 200
        assert now() - started < timedelta(seconds=2), "the busy timeout is 5 s"
    assert used(world, knitter) is None
    knitter.get("/feet")
    assert used(world, knitter) is not None


def test_what_cannot_be_a_token_is_refused_without_a_look_at_the_database(
    world: Any, is_problem: Any
) -> None:
    asked: list[str] = []
    for engine in world.database.engines:
        event.listen(engine, "before_cursor_execute", lambda *given: asked.append(given[2]))
    good = world.mine.knitter.token
    look_alike = good[:-1] + ("x" if good[-1] != "x" else "y")
    said = []
    for token in (look_alike, good[:-1], good + "0", "nonsense", good.upper()):
        said.append(is_problem(replace(world.mine.knitter, token=token).get("/feet"), 401))
        assert not [one for one in asked if "tokens" in one]
    said.append(is_problem(replace(world.mine.knitter, token=codes.new_code(PREFIX)).get(""), 401))
    assert [one for one in asked if "tokens" in one], "a true-looking one is looked up"
    assert all(one == said[0] for one in said)
