"""Nobody learns anything of another group, whatever the path; paths come from OpenAPI.

An operation with a new path parameter or a new kind of body fails here until a sample of it is
added to `World` in conftest.py.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from werkzeug.test import TestResponse

from models.actions.tokens import digest
from models.tables.base import now
from models.tables.people import Token

MISSING = "0" * 32


def in_groups(world: Any) -> list[Any]:
    return [one for one in world.operations() if one.in_group]


def said(answer: TestResponse) -> tuple[int, str, bytes]:
    return answer.status_code, answer.mimetype, answer.data


def test_every_path_of_a_group_of_others_answers_like_one_of_no_group(world: Any) -> None:
    theirs = world.things(world.theirs.steward)
    asked = in_groups(world)
    assert len(asked) >= 25
    for one in asked:
        other, none = (
            said(world.mine.steward.ask(one.method, one.path.format(group_id=g, **ids), **options))
            for g, ids, options in (
                (world.theirs.steward.group_id, theirs, one.options),
                (MISSING, dict.fromkeys(theirs, MISSING), one.options),
            )
        )
        assert other == none, str(one)
        assert other[:2] == (404, "application/problem+json"), str(one)


def test_every_thing_of_another_group_answers_like_one_that_does_not_exist(world: Any) -> None:
    theirs = world.things(world.theirs.steward)
    mine = world.mine.steward
    asked = [one for one in in_groups(world) if one.parameters]
    assert len(asked) >= 14
    for one in asked:
        other, none = (
            said(
                mine.ask(one.method, one.path.format(group_id=mine.group_id, **ids), **one.options)
            )
            for ids in (theirs, dict.fromkeys(theirs, MISSING))
        )
        assert other == none, str(one)
        assert other[:2] == (404, "application/problem+json"), str(one)


def test_a_token_of_another_person_answers_like_one_that_does_not_exist(world: Any) -> None:
    theirs = world.things(world.theirs.steward, ["token_id"])["token_id"]
    other, none = (said(world.mine.steward.delete(f"/v1/tokens/{i}")) for i in (theirs, MISSING))
    assert other == none
    assert other[0] == 404


def test_nothing_of_another_group_is_changed_by_asking_for_it(world: Any) -> None:
    theirs = world.things(world.theirs.steward)
    places = ("", "/feet", "/reports", "/calibrations", "/members", "/invitations")
    before = [world.theirs.steward.get(place).data for place in places]
    for one in in_groups(world):
        for who in (world.mine.knitter, world.mine.steward):
            for group_id in (world.theirs.steward.group_id, world.mine.steward.group_id):
                if not one.path.endswith("/me"):
                    path = one.path.format(group_id=group_id, **theirs)
                    who.ask(one.method, path, **one.options)
    assert [world.theirs.steward.get(place).data for place in places] == before


def test_a_token_of_one_person_opens_all_her_groups_and_no_other(world: Any) -> None:
    body = {"name": "Invented second group", "steward": "Ottoline", "consent_version": 3}
    second = world.mine.steward.post("/v1/groups", body).headers["Location"]
    assert world.mine.steward.get(second).status_code == 200
    assert world.mine.knitter.get(second).status_code == 404


def end_token(world: Any, who: Any, **changed: Any) -> str:
    with world.database.write.begin() as session:
        token = session.query(Token).filter_by(digest=digest(who.token)).one()
        for name, value in changed.items():
            setattr(token, name, value)
    return f"Bearer {who.token}"


@pytest.fixture
def unusable(world: Any) -> dict[str, str | None]:
    """Return `Authorization` headers that must not let anybody in."""
    group_id = world.mine.steward.group_id
    revoked, expired = (world.member(group_id, name, "steward") for name in ("Ada", "Bea"))
    return {
        "none": None,
        "empty": "",
        "no scheme": world.mine.steward.token,
        "another scheme": f"Basic {world.mine.steward.token}",
        "no token": "Bearer ",
        "unknown": "Bearer heeldepth_unknown",
        "cut off": f"Bearer {world.mine.steward.token[:-1]}",
        "two": f"Bearer {world.mine.steward.token} {world.mine.steward.token}",
        "not ASCII": "Bearer \u00e9\u00ff",
        "its digest": f"Bearer {digest(world.mine.steward.token)}",
        "revoked": end_token(world, revoked, revoked_at=now()),
        "expired": end_token(world, expired, expires_at=now() - timedelta(seconds=1)),
    }


def test_every_operation_refuses_tokens_that_are_not_good(
    world: Any, unusable: dict[str, str | None], is_problem: Any
) -> None:
    steward = world.mine.steward
    ids = {**world.things(steward), "group_id": steward.group_id}
    before = [steward.get(place).data for place in ("/feet", "/members", "/v1/tokens")]
    for one in world.operations():
        for kind, header in unusable.items():
            if one.is_open or (one.takes_anybody and kind == "none"):
                continue  # open to people without a token; they get one
            headers = {"If-Match": "*"} | ({} if header is None else {"Authorization": header})
            answer = world.client.open(
                one.path.format(**ids), method=one.method, **{**one.options, "headers": headers}
            )
            is_problem(answer, 401)
            assert answer.headers["WWW-Authenticate"] == 'Bearer realm="heeldepth"', (one, kind)
    assert [steward.get(place).data for place in ("/feet", "/members", "/v1/tokens")] == before


def test_a_token_that_has_not_expired_yet_is_good(world: Any) -> None:
    who = world.mine.knitter
    header = end_token(world, who, expires_at=now() + timedelta(minutes=1))
    assert world.client.get("/v1/groups", headers={"Authorization": header}).status_code == 200
    assert who.get("/feet").status_code == 200


def test_the_scheme_of_a_token_is_read_in_any_case(world: Any) -> None:
    headers = {"Authorization": f"bEARER {world.mine.knitter.token}"}
    assert world.client.get("/v1/groups", headers=headers).status_code == 200
