"""Inviting and joining. All names are invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from threading import Barrier, Thread
from typing import Any

import pytest

from models.domain import codes
from models.tables.base import now
from models.tables.invitations import Invitation
from models.tables.people import Member, Person

NEWCOMER = {"name": "Isolde", "consent_version": 3}


def accept(world: Any, code: str, token: str | None = None, **changed: Any) -> Any:
    headers = {"Authorization": f"Bearer {token}"} if token else {}
    body = {name: value for name, value in (NEWCOMER | changed).items() if value is not ...}
    path = f"/v1/invitations/{code}/acceptance"
    return world.app.test_client().post(path, json=body, headers=headers)


@pytest.fixture
def invite(world: Any) -> Callable[..., Any]:
    return lambda **terms: world.mine.steward.make("/invitations", terms)


def test_an_invitation_is_for_one_knitter_for_seven_days_unless_said_otherwise(
    world: Any, invite: Any
) -> None:
    made = invite()
    assert codes.well_formed(codes.INVITATION, made["code"])
    assert (made["role"], made["uses"], made["uses_left"]) == ("knitter", 1, 1)
    with world.database.read() as session:
        row = session.get_one(Invitation, made["id"])
    assert abs(row.expires_at - now() - timedelta(days=7)) < timedelta(minutes=1)
    assert row.digest == codes.digest(made["code"])


def test_whoever_accepts_without_a_token_becomes_somebody_new_with_one(
    world: Any, invite: Any
) -> None:
    answer = accept(world, invite(role="designer")["code"])
    assert answer.status_code == 201, answer.text
    joined = answer.json
    assert (joined["id"], joined["role"]) == (world.mine.steward.group_id, "designer")
    who = replace(world.mine.knitter, token=joined["token"], member_id=joined["member_id"])
    assert who.get("/feet").json["items"] == []
    [own] = who.items("/members")
    assert (own["name"], own["role"], own["joined"]) == ("Isolde", "designer", True)
    assert who.get(answer.headers["Location"]).status_code == 200
    with world.database.read() as session:
        assert session.get_one(Member, joined["member_id"]).consent_version == 3


def test_whoever_accepts_with_a_token_is_in_both_groups(world: Any, invite: Any) -> None:
    with world.database.read() as session:
        before = session.query(Person).count()
    answer = accept(world, invite()["code"], world.theirs.knitter.token)
    assert (answer.status_code, answer.json["token"]) == (201, None)
    names = [group["name"] for group in world.theirs.knitter.get("/v1/groups").json["items"]]
    assert names == ["Invented heron group", "Invented otter group"]
    with world.database.read() as session:
        assert session.query(Person).count() == before


def test_an_invitation_lets_in_as_many_as_it_says(world: Any, invite: Any, is_problem: Any) -> None:
    made = invite(uses=2)
    for name in ("Ada", "Bea"):
        assert accept(world, made["code"], name=name).status_code == 201
    is_problem(accept(world, made["code"], name="Cora"), 404)
    assert world.mine.steward.get(f"/invitations/{made['id']}").json["uses_left"] == 0


def test_a_code_used_up_revoked_expired_or_unknown_is_answered_the_same(
    world: Any, invite: Any, is_problem: Any
) -> None:
    used, revoked, expired = invite(), invite(), invite()
    assert accept(world, used["code"]).status_code == 201
    for _ in range(2):
        path = f"/invitations/{revoked['id']}"
        assert world.mine.steward.delete(path).status_code == 204
    with world.database.write.begin() as session:
        session.get_one(Invitation, expired["id"]).expires_at = now()
    unknown = (
        codes.new_code(codes.INVITATION),
        "heeldepth_invitation_",
        "x" * 300,
        "%20",
        "\u00e9",
    )
    said = [
        is_problem(accept(world, code, name="Ada"), 404)
        for code in (used["code"], revoked["code"], expired["code"], *unknown)
    ]
    assert all(one == said[0] for one in said)


def test_a_refused_acceptance_does_not_use_the_invitation_up(
    world: Any, invite: Any, faults: Any, is_problem: Any
) -> None:
    code = invite()["code"]
    taken = faults(accept(world, code, name="Kestrel"))
    assert taken == {"/name": "somebody in the group has that name: choose another"}
    assert list(faults(accept(world, code, name=...))) == ["/name"]
    is_problem(accept(world, code, world.mine.knitter.token), 409)
    is_problem(accept(world, code, "nonsense"), 401)
    assert accept(world, code).status_code == 201


@pytest.mark.parametrize("version", [0, 1, 2, None, "3", True, 1.5])
def test_nobody_joins_without_agreeing_to_the_text_of_now(
    world: Any, invite: Any, faults: Any, version: Any
) -> None:
    assert world.client.get("/v1/consent").json["version"] == 3
    found = faults(accept(world, invite()["code"], consent_version=version))
    assert "/v1/consent" in found["/consent_version"]


def test_of_many_who_accept_a_single_invitation_at_once_one_joins(world: Any, invite: Any) -> None:
    code, together, statuses = invite()["code"], Barrier(6), []

    def join(number: int) -> None:
        together.wait()
        statuses.append(accept(world, code, name=f"Invented {number}").status_code)

    threads = [Thread(target=join, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(statuses) == [201, 404, 404, 404, 404, 404]
    assert world.mine.steward.get("/members").json["counts"]["knitter"] == 2


def test_a_reporter_takes_over_the_place_and_the_reports_that_a_steward_wrote_down(
    world: Any, invite: Any, is_problem: Any
) -> None:
    steward = world.mine.steward
    made = steward.make("/reports", world.report(reporter="Alder"))
    invited = invite(reporter="Alder")
    assert invited["reporter"] == "Alder"
    answer = accept(world, invited["code"], name=...)
    assert answer.json["name_in_group"] == "Alder"
    who = replace(world.mine.knitter, token=answer.json["token"])
    assert [one["id"] for one in who.items("/reports")] == [made["id"]]
    is_problem(steward.get(f"/reports/{made['id']}"), 404)
    assert steward.items("/reports") == []


def test_a_place_is_given_to_one_person_only(world: Any, invite: Any, faults: Any) -> None:
    steward = world.mine.steward
    steward.make("/feet", world.foot(reporter="Alder"))
    first, second = invite(reporter="Alder"), invite(reporter="Alder")
    assert list(faults(accept(world, first["code"], name="Isolde"))) == ["/name"]
    assert accept(world, first["code"], name="Alder").status_code == 201
    assert accept(world, second["code"], name=...).status_code == 409
    for terms, field in (
        ({"reporter": "Alder"}, "/reporter"),
        ({"reporter": "Nobody"}, "/reporter"),
        ({"reporter": "Kestrel"}, "/reporter"),
    ):
        assert list(faults(steward.post("/invitations", terms))) == [field]


def test_a_place_is_not_for_several(world: Any, faults: Any) -> None:
    world.mine.steward.make("/feet", world.foot(reporter="Alder"))
    answer = world.mine.steward.post("/invitations", {"reporter": "Alder", "uses": 2})
    assert list(faults(answer)) == ["/uses"]


def test_who_left_comes_back_to_the_same_place_and_reports(world: Any, invite: Any) -> None:
    knitter = world.mine.knitter
    made = knitter.make("/reports", world.report())
    assert knitter.delete("/members/me").status_code == 204
    back = accept(world, invite(role="designer")["code"], knitter.token, name="Kestrel the second")
    assert back.json["member_id"] == knitter.member_id
    assert (back.json["role"], back.json["name_in_group"]) == ("designer", "Kestrel the second")
    assert [one["id"] for one in knitter.items("/reports")] == [made["id"]]


def test_a_list_of_invitations_holds_no_code(world: Any, invite: Any) -> None:
    made = invite()
    path = f"/invitations/{made['id']}"
    listed = world.mine.steward.get("/invitations").text + world.mine.steward.get(path).text
    assert made["id"] in listed
    assert codes.INVITATION not in listed
    assert codes.digest(made["code"]) not in listed


@pytest.mark.parametrize(
    ("wrong", "wanted"),
    [
        ({"uses": 0}, "a whole number from 1 to 100"),
        ({"uses": 101}, "a whole number from 1 to 100"),
        ({"days": 91}, "a whole number from 1 to 90"),
        ({"days": None}, "a whole number from 1 to 90"),
        ({"role": "queen"}, "one of knitter, designer, steward"),
    ],
)
def test_an_invitation_that_cannot_be_says_what_can(
    lasting: Any, faults: Any, wrong: dict[str, Any], wanted: str
) -> None:
    [said] = faults(lasting.mine.steward.post("/invitations", wrong)).values()
    assert wanted in said
