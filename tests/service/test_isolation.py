"""Nobody learns anything of another group, whatever the path; paths come from OpenAPI.

An operation with a new path parameter or a new kind of body fails here until a sample of it is
added below.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from werkzeug.test import TestResponse

from models.actions.tokens import digest
from models.tables.base import now
from models.tables.people import Token

MISSING = "0" * 32


def bodies(world: Any) -> dict[str, Any]:
    """Return a body that would be taken, by the name of its schema."""
    return {
        "NewFoot": world.foot(),
        "NewReport": world.report(),
        "ReportChange": {"fit_score": 1},
        "NewReview": {"status": "accepted"},
        "NewCalibration": {},
        "NewActivation": {},
        "NewRollback": {},
        "NewSuggestion": world.question(),
        "NewDesign": {"name": "Invented newt heel"},
        "DesignChange": {"name": "Invented toad heel"},
        "NewSize": world.size(label="M"),
        "SizeChange": {"slow_decrease_rounds": 2},
        "NewAdoption": {},
        "NewReversal": {},
        "NewGroup": {"name": "Invented newt group", "steward": "Isolde"},
    }


def made_by(who: Any, world: Any) -> dict[str, str]:
    """Return the id of one thing of each kind that a member made, by path parameter."""
    design = who.make("/designs", {"name": "Invented moor heel"})["id"]
    return {
        "design_id": design,
        "size_id": who.make(f"/designs/{design}/sizes", world.size())["id"],
        "adoption_id": who.make(f"/designs/{design}/adoptions")["id"],
        "foot_id": who.make("/feet", world.foot())["id"],
        "report_id": who.make("/reports", world.report())["id"],
        "calibration_id": who.make("/calibrations")["id"],
        "suggestion_id": who.make("/suggestions", world.question())["id"],
    }


def operations(world: Any) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Yield method, path and request options of every operation that needs a token."""
    for path, item in world.client.get("/openapi.json").json["paths"].items():
        for method, told in item.items():
            if method == "parameters" or told.get("security") == []:
                continue
            options: dict[str, Any] = {"headers": {"If-Match": "*"}}
            if "application/json" in told.get("requestBody", {}).get("content", ()):
                schema = told["requestBody"]["content"]["application/json"]["schema"]
                options["json"] = bodies(world)[schema["$ref"].rsplit("/", 1)[-1]]
            yield method.upper(), path, options


def in_groups(world: Any) -> list[tuple[str, str, dict[str, Any]]]:
    return [one for one in operations(world) if "{group_id}" in one[1]]


def said(answer: TestResponse) -> tuple[int, str, bytes]:
    return answer.status_code, answer.mimetype, answer.data


def test_every_path_of_a_group_of_others_answers_like_one_of_no_group(world: Any) -> None:
    theirs = made_by(world.theirs.steward, world)
    asked = in_groups(world)
    assert len(asked) >= 14
    for method, path, options in asked:
        other, none = (
            said(world.mine.steward.ask(method, path.format(group_id=g, **ids), **options))
            for g, ids in (
                (world.theirs.steward.group_id, theirs),
                (MISSING, dict.fromkeys(theirs, MISSING)),
            )
        )
        assert other == none, (method, path)
        assert other[:2] == (404, "application/problem+json"), (method, path)


def test_every_thing_of_another_group_answers_like_one_that_does_not_exist(world: Any) -> None:
    theirs = made_by(world.theirs.steward, world)
    mine = world.mine.steward
    asked = [one for one in in_groups(world) if one[1].count("{") > 1]
    assert len(asked) >= 7
    for method, path, options in asked:
        other, none = (
            said(mine.ask(method, path.format(group_id=mine.group_id, **ids), **options))
            for ids in (theirs, dict.fromkeys(theirs, MISSING))
        )
        assert other == none, (method, path)
        assert other[:2] == (404, "application/problem+json"), (method, path)


def test_nothing_of_another_group_is_changed_by_asking_for_it(world: Any) -> None:
    theirs = made_by(world.theirs.steward, world)
    places = ("/feet", "/reports", "/calibrations")
    before = [world.theirs.steward.get(place).data for place in places]
    for method, path, options in in_groups(world):
        for group_id in (world.mine.steward.group_id, world.theirs.steward.group_id):
            world.mine.knitter.ask(method, path.format(group_id=group_id, **theirs), **options)
    assert [world.theirs.steward.get(place).data for place in places] == before


def test_a_token_of_one_person_opens_all_her_groups_and_no_other(world: Any) -> None:
    body = {"name": "Invented second group", "steward": "Ottoline"}
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
    ids = {**made_by(world.mine.steward, world), "group_id": world.mine.steward.group_id}
    before = world.mine.steward.get("/feet").data
    for method, path, options in operations(world):
        for kind, header in unusable.items():
            if (method, path, kind) == ("POST", "/v1/groups", "none"):
                continue  # open to people without a token; founding gives them one
            headers = {"If-Match": "*"} | ({} if header is None else {"Authorization": header})
            answer = world.client.open(
                path.format(**ids), method=method, **{**options, "headers": headers}
            )
            is_problem(answer, 401)
            assert answer.headers["WWW-Authenticate"] == 'Bearer realm="heeldepth"', (path, kind)
    assert world.mine.steward.get("/feet").data == before


def test_a_token_that_has_not_expired_yet_is_good(world: Any) -> None:
    who = world.mine.knitter
    header = end_token(world, who, expires_at=now() + timedelta(minutes=1))
    assert world.client.get("/v1/groups", headers={"Authorization": header}).status_code == 200
    assert who.get("/feet").status_code == 200


def test_the_scheme_of_a_token_is_read_in_any_case(world: Any) -> None:
    headers = {"Authorization": f"bEARER {world.mine.knitter.token}"}
    assert world.client.get("/v1/groups", headers=headers).status_code == 200
