"""Members: who sees whom, roles, removal, leaving. All names are invented."""

from __future__ import annotations

from threading import Barrier, Thread
from typing import Any

import pytest


def path_of(who: Any) -> str:
    return f"/members/{who.member_id}"


def test_a_steward_sees_all_members_and_reporters_others_themselves_and_counts(world: Any) -> None:
    steward, knitter = world.mine.steward, world.mine.knitter
    designer = world.member(steward.group_id, "Wisteria", "designer")
    steward.make("/feet", world.foot(reporter="Alder"))
    counts = {"knitter": 1, "designer": 1, "steward": 1}
    seen = {
        who.name: [(one["name"], one["role"], one["joined"]) for one in who.items("/members")]
        for who in (steward, knitter, designer)
    }
    assert sorted(seen["Ottoline"]) == [
        ("Alder", "knitter", False),
        ("Kestrel", "knitter", True),
        ("Ottoline", "steward", True),
        ("Wisteria", "designer", True),
    ]
    assert seen["Kestrel"] == [("Kestrel", "knitter", True)]
    assert seen["Wisteria"] == [("Wisteria", "designer", True)]
    for who in (steward, knitter, designer):
        assert who.get("/members").json["counts"] == counts


def test_a_member_reads_herself_and_no_other(world: Any, is_problem: Any) -> None:
    steward, knitter = world.mine.steward, world.mine.knitter
    assert knitter.get(path_of(knitter)).json["name"] == "Kestrel"
    assert steward.get(path_of(knitter)).json == knitter.get(path_of(knitter)).json
    is_problem(knitter.get(path_of(steward)), 404)


def test_a_new_role_holds_from_the_next_request_on(world: Any, is_problem: Any) -> None:
    steward, knitter = world.mine.steward, world.mine.knitter
    is_problem(knitter.post("/calibrations"), 403)
    read = steward.get(path_of(knitter))
    answer = steward.patch(path_of(knitter), {"role": "designer"}, If_Match=read.headers["ETag"])
    assert (answer.status_code, answer.json["role"], answer.json["version"]) == (200, "designer", 2)
    assert answer.headers["ETag"] == steward.get(path_of(knitter)).headers["ETag"]
    assert knitter.post("/calibrations").status_code == 201


def test_a_role_is_changed_against_the_version_that_was_read(world: Any, is_problem: Any) -> None:
    steward, path = world.mine.steward, path_of(world.mine.knitter)
    read = steward.get(path).headers["ETag"]
    is_problem(steward.patch(path, {"role": "designer"}), 428)
    is_problem(steward.delete(path), 428)
    assert steward.patch(path, {"role": "designer"}, If_Match=read).status_code == 200
    is_problem(steward.patch(path, {"role": "steward"}, If_Match=read), 412)
    is_problem(steward.delete(path, If_Match=read), 412)
    assert steward.get(path).json["role"] == "designer"


@pytest.mark.parametrize("role", ["queen", "", None, 3, ["knitter"]])
def test_there_are_no_other_roles(lasting: Any, faults: Any, role: Any) -> None:
    path = path_of(lasting.mine.knitter)
    found = faults(lasting.mine.steward.patch(path, {"role": role}, If_Match="*"))
    assert found == {"/role": "one of knitter, designer, steward"}


def test_who_is_removed_loses_this_group_and_no_other_and_the_reports_stay(
    world: Any, is_problem: Any
) -> None:
    steward, knitter = world.mine.steward, world.mine.knitter
    knitter.make("/reports", world.report())
    body = {"name": "Invented second group", "steward": "Kestrel", "consent_version": 3}
    second = knitter.post("/v1/groups", body).headers["Location"]
    assert steward.delete(path_of(knitter), If_Match="*").status_code == 204
    is_problem(knitter.get("/reports"), 404)
    assert [one["name"] for one in knitter.get("/v1/groups").json["items"]] == [body["name"]]
    assert knitter.get(second).status_code == 200
    assert steward.get(path_of(knitter)).json["left_at"] is not None
    assert steward.make("/calibrations")["reports"] == 1
    assert steward.items("/reports") == [], "a steward sees them no more than before"


def test_a_place_that_nobody_has_joined_or_that_was_left_is_not_changed(
    world: Any, is_problem: Any
) -> None:
    steward, knitter = world.mine.steward, world.mine.knitter
    steward.make("/feet", world.foot(reporter="Alder"))
    [alder] = [one["id"] for one in steward.items("/members") if one["name"] == "Alder"]
    assert knitter.delete("/members/me").status_code == 204
    for member_id in (alder, knitter.member_id):
        path = f"/members/{member_id}"
        is_problem(steward.patch(path, {"role": "steward"}, If_Match="*"), 409)
        is_problem(steward.delete(path, If_Match="*"), 409)


def test_the_last_steward_neither_leaves_nor_is_removed_nor_demoted(
    world: Any, is_problem: Any
) -> None:
    steward = world.mine.steward
    own = path_of(steward)
    for answer in (
        steward.delete("/members/me"),
        steward.delete(own, If_Match="*"),
        steward.patch(own, {"role": "knitter"}, If_Match="*"),
    ):
        assert "make somebody else steward first" in is_problem(answer, 409)["detail"]
    assert steward.patch(own, {"role": "steward"}, If_Match="*").status_code == 200


def test_a_steward_hands_over_and_leaves(world: Any, is_problem: Any) -> None:
    steward, knitter = world.mine.steward, world.mine.knitter
    assert steward.patch(path_of(knitter), {"role": "steward"}, If_Match="*").status_code == 200
    assert steward.delete("/members/me").status_code == 204
    is_problem(knitter.delete("/members/me"), 409)
    assert knitter.get("/members").json["counts"]["steward"] == 1


@pytest.mark.parametrize("way", ["leave", "remove each other", "demote each other"])
def test_of_two_last_stewards_who_go_at_once_one_stays(world: Any, way: str) -> None:
    one = world.mine.steward
    two = world.member(one.group_id, "Wisteria", "steward")
    together, statuses = Barrier(2), []

    def go(who: Any, other: Any) -> None:
        client = world.app.test_client()
        headers = {"Authorization": f"Bearer {who.token}", "If-Match": "*"}
        base = f"/v1/groups/{one.group_id}/members"
        together.wait()
        if way == "leave":
            answer = client.delete(f"{base}/me", headers=headers)
        elif way == "remove each other":
            answer = client.delete(f"{base}/{other.member_id}", headers=headers)
        else:
            path, body = f"{base}/{other.member_id}", {"role": "knitter"}
            answer = client.patch(path, json=body, headers=headers)
        statuses.append(answer.status_code)

    threads = [Thread(target=go, args=pair) for pair in ((one, two), (two, one))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    fine = [status for status in statuses if status < 400]
    assert len(fine) == 1, statuses
    assert set(statuses) - set(fine) <= {403, 404, 409}, statuses
    left = next(who for who in (one, two) if who.get("/invitations").status_code == 200)
    assert left.get("/members").json["counts"]["steward"] == 1


def test_members_come_in_pages(world: Any) -> None:
    steward = world.mine.steward
    for number in range(4):
        world.member(steward.group_id, f"Invented {number}", "knitter")
    names, path = [], "/members?limit=2"
    while path:
        page = steward.get(path).json
        names += [one["name"] for one in page["items"]]
        path = page["next"] and f"/members?limit=2&cursor={page['next']}"
    assert len(names) == len(set(names)) == 6
