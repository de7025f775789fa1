"""Every operation of the document, asked by everybody: all as the role table says."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from uuid import uuid4

import pytest
from werkzeug.test import TestResponse

from models.actions import tokens
from models.domain.roles import ALLOWED, Action, Role, Scope
from models.tables.base import now
from models.tables.people import Token

OF_THE_ASKER = {"foot_id", "report_id", "suggestion_id", "token_id", "place_id", "job_id"}
"""Things that only their owner reaches; the others a steward made."""

FINE = {200, 201, 202, 204, 207}


def somebody(world: Any, role: Role) -> Any:
    """Return a new member of `mine`: what an operation ends is then nobody else's."""
    return world.member(world.mine.steward.group_id, f"Invented {uuid4().hex}", role.value)


def own_things(world: Any, one: Any, who: Any) -> dict[str, str]:
    """Return ids of things that an operation asks for in a state of their own."""
    if one.path.endswith("/members/{member_id}") and one.method == "GET":
        return {"member_id": who.member_id}
    if one.path.endswith("/cancellation"):
        return {"job_id": str(who.post("/exports").json["id"])}  # one that waits
    if one.path.endswith("/file"):  # one that holds no more than a token for reading may see
        reading = who.make("/v1/tokens", {"label": "reading", "scopes": ["read"]})["token"]
        job_id = str(replace(who, token=reading).post("/exports").json["id"])
        world.work()
        return {"job_id": job_id}
    return {}


def prepare(world: Any, one: Any, who: Any) -> None:
    """Do what must have been done before an operation can be."""
    if one.path.endswith("/rollbacks"):
        for _ in range(2):
            made = world.mine.steward.make("/calibrations")["id"]
            world.mine.steward.post(f"/calibrations/{made}/activation")
    if one.path.endswith("/contribution"):
        world.well_known(world.mine.steward)
    if str(one) == "GET /v1/accounts":
        who.post("/v1/accounts", world.bodies()["NewAccount"])


def asked(world: Any, one: Any, who: Any, *shown: str | None) -> TestResponse:
    """Return the answer to somebody who asks for things that are there for her.

    She shows her own token unless another is given, or None for none at all.
    """
    makers = {name: who if name in OF_THE_ASKER else world.mine.steward for name in one.parameters}
    if "code" in makers:
        makers["code"] = world.theirs.steward  # a group where she is not a member yet
    ids = {name: world.things(maker, [name])[name] for name, maker in makers.items()}
    ids |= own_things(world, one, who)
    prepare(world, one, who)
    path = one.path.format(group_id=who.group_id, **ids)
    [token] = shown or (who.token,)
    if token is None:
        return world.client.open(path, method=one.method, **one.options)
    return replace(who, token=token).ask(one.method, path, **one.options)


def declared(one: Any) -> Action:
    return Action[one.told["x-action"].upper()]


@pytest.fixture
def closed(world: Any) -> list[Any]:
    """Return the operations that declare an action."""
    found = [one for one in world.operations() if not one.is_open]
    assert len(found) >= 30
    return found


@pytest.mark.parametrize("role", Role)
def test_a_role_gets_what_the_table_gives_it_and_nothing_else(
    world: Any, closed: list[Any], is_problem: Any, role: Role
) -> None:
    for one in closed:
        answer = asked(world, one, somebody(world, role))
        if role in ALLOWED[declared(one)].roles:
            assert answer.status_code in FINE, (str(one), answer.text)
        else:
            assert is_problem(answer, 403)["detail"].startswith(f"a {role} may not"), str(one)


@pytest.mark.parametrize("scope", Scope)
def test_a_token_of_one_scope_gets_what_the_table_gives_it_and_nothing_else(
    world: Any, closed: list[Any], is_problem: Any, scope: Scope
) -> None:
    for one in closed:
        who = somebody(world, Role.STEWARD)
        narrow = who.make("/v1/tokens", {"label": "narrow", "scopes": [scope.value]})["token"]
        answer = asked(world, one, who, narrow)
        if ALLOWED[declared(one)].scopes <= {scope}:
            assert answer.status_code in FINE, (str(one), answer.text)
        else:
            assert is_problem(answer, 403)["detail"].startswith("this token may not"), str(one)


def test_nobody_gets_only_what_is_for_people_without_a_token(
    world: Any, closed: list[Any], is_problem: Any
) -> None:
    for one in closed:
        answer = asked(world, one, somebody(world, Role.STEWARD), None)
        if one.takes_anybody:
            assert answer.status_code == 201, str(one)
        else:
            is_problem(answer, 401)


def test_a_revoked_token_gets_nothing_from_the_next_request_on(
    world: Any, closed: list[Any], is_problem: Any
) -> None:
    for one in closed:
        who = somebody(world, Role.STEWARD)
        revoked = who.make("/v1/tokens", {"label": "doomed"})
        assert replace(who, token=revoked["token"]).get("/feet").status_code == 200
        assert who.delete(f"/v1/tokens/{revoked['id']}").status_code == 204
        is_problem(asked(world, one, who, revoked["token"]), 401)


def test_a_member_of_another_group_finds_nothing_here(
    world: Any, closed: list[Any], is_problem: Any
) -> None:
    for one in closed:
        if one.in_group:
            who = somebody(world, Role.STEWARD)
            is_problem(asked(world, one, who, world.theirs.steward.token), 404)


def test_who_was_removed_or_left_finds_nothing_here_any_more(
    world: Any, closed: list[Any], is_problem: Any
) -> None:
    steward = world.mine.steward
    left, removed = somebody(world, Role.STEWARD), somebody(world, Role.STEWARD)
    assert left.delete("/members/me").status_code == 204
    gone = steward.delete(f"/members/{removed.member_id}", If_Match="*")
    assert gone.status_code == 204
    for one in closed:
        if one.in_group:
            for who in (left, removed):
                is_problem(asked(world, one, steward, who.token), 404)


def test_what_is_open_asks_nobody_who_they_are(world: Any) -> None:
    for one in world.operations():
        if one.is_open:
            answer = world.client.open(one.path, method=one.method, **one.options)
            refused = one.path in ("/v1/sessions", "/v1/accounts/password")
            expected = {401, 404} if refused and one.method == "POST" else FINE
            assert answer.status_code in expected, (str(one), answer.text)


def test_a_token_of_the_first_kind_without_a_checksum_stays_good(world: Any) -> None:
    old = "heeldepth_" + "q7Zr-_" * 7 + "x"
    with world.database.write.begin() as session:
        own = session.query(Token).filter_by(digest=tokens.digest(world.mine.knitter.token)).one()
        session.add(Token(person_id=own.person_id, digest=tokens.digest(old), label="old"))
    who = replace(world.mine.knitter, token=old)
    assert who.get("/feet").status_code == 200
    assert who.post("/feet", world.foot()).status_code == 201


@pytest.mark.parametrize("field", ["group_id", "role", "status", "id", "member_id", "version"])
def test_a_field_that_is_not_asked_for_is_refused_and_nothing_is_written(
    world: Any, closed: list[Any], field: str
) -> None:
    values = {"role": "steward", "status": "accepted", "version": 7}
    for one in closed:
        fields = one.options.get("json")
        if fields is None or field in fields:
            continue  # a role is asked for where roles are given
        who = somebody(world, Role.STEWARD)
        injected = {**fields, field: values.get(field, world.theirs.steward.group_id)}
        body = replace(one, options={**one.options, "json": injected})
        answer = asked(world, body, who)
        assert answer.status_code == 422, str(one)
        [error] = answer.json["errors"]
        assert error["pointer"] == f"/{field}"
        assert error["wanted"].startswith("no such field"), str(one)


def test_a_token_that_has_expired_is_refused_like_one_that_never_was(
    world: Any, is_problem: Any
) -> None:
    who = world.mine.knitter
    made = who.make("/v1/tokens", {"label": "short", "days": 1})["token"]
    with world.database.write.begin() as session:
        session.query(Token).filter_by(digest=tokens.digest(made)).one().expires_at = now()
    said = [
        is_problem(replace(who, token=token).get("/feet"), 401)
        for token in (made, "heeldepth_" + "0" * 38, "nonsense")
    ]
    assert said[0] == said[1] == said[2]
