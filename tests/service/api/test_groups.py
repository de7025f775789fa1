"""Founding groups and listing one's own."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from models.tables.people import Group, Member, Person
from service.app import create_app
from service.config import Settings


def test_whoever_founds_a_group_becomes_its_steward_and_gets_a_token(client: Any) -> None:
    answer = client.post(
        "/v1/groups", json={"name": "Invented wrens", "steward": "Isolde", "consent_version": 3}
    )
    assert answer.status_code == 201
    assert (answer.json["name"], answer.json["role"]) == ("Invented wrens", "steward")
    headers = {"Authorization": f"Bearer {answer.json['token']}"}
    read = client.get(answer.headers["Location"], headers=headers)
    assert read.json == {k: v for k, v in answer.json.items() if k != "token"}


def test_whoever_has_a_token_founds_a_second_group_with_it(world: Any) -> None:
    body = {"name": "Invented second group", "steward": "Ottoline", "consent_version": 3}
    answer = world.mine.steward.post("/v1/groups", body)
    assert answer.json["token"] is None
    mine = world.mine.steward.get("/v1/groups").json["items"]
    assert [(group["name"], group["role"]) for group in mine] == [
        ("Invented heron group", "steward"),
        ("Invented second group", "steward"),
    ]


def test_a_list_of_groups_holds_only_those_one_is_a_member_of(world: Any) -> None:
    items = world.theirs.knitter.get("/v1/groups").json["items"]
    assert [(group["name"], group["role"]) for group in items] == [
        ("Invented otter group", "knitter")
    ]


def test_two_groups_may_have_the_same_name_so_that_trying_names_finds_none(world: Any) -> None:
    body = {"name": "Invented otter group", "steward": "Ottoline", "consent_version": 3}
    answer = world.client.post("/v1/groups", json=body)
    assert answer.status_code == 201
    assert answer.json["id"] != world.theirs.steward.group_id


def test_founding_sent_again_with_a_token_and_a_key_is_done_once(world: Any) -> None:
    body = {"name": "Invented second group", "steward": "Ottoline", "consent_version": 3}
    ids = {
        world.mine.steward.post("/v1/groups", body, Idempotency_Key="one").json["id"]
        for _ in range(2)
    }
    assert len(ids) == 1
    with world.database.read() as session:
        assert [session.query(table).count() for table in (Group, Person, Member)] == [3, 4, 5]


def test_a_list_of_groups_needs_a_token(client: Any, is_problem: Any) -> None:
    is_problem(client.get("/v1/groups"), 401)


def test_where_founding_is_closed_nobody_founds(world: Any, is_problem: Any) -> None:
    url = world.app.config["HEELDEPTH"].database_url
    app = create_app(replace(Settings(url), group_creation="closed"))
    body = {"name": "Invented late group", "steward": "Isolde", "consent_version": 3}
    problem = is_problem(app.test_client().post("/v1/groups", json=body), 403)
    app.extensions["heeldepth"].close()
    assert "heeldepth group create" in problem["detail"]


@pytest.mark.parametrize("header", ["", "Bearer", "Bearer nonsense", "Basic b3R0ZXI="])
def test_a_group_is_not_founded_with_a_token_that_is_wrong(
    lasting: Any, is_problem: Any, header: str
) -> None:
    body = {"name": "Invented refused group", "steward": "Isolde", "consent_version": 3}
    headers = {"Authorization": header}
    is_problem(lasting.client.post("/v1/groups", json=body, headers=headers), 401)
    assert lasting.mine.steward.get("/v1/groups").json["items"] != []
    with lasting.database.read() as session:
        assert session.query(Group).filter_by(name="Invented refused group").count() == 0


def test_a_name_is_trimmed_and_composed(client: Any) -> None:
    body = {"name": "  Cafe\u0301 invented ", "steward": "Isolde", "consent_version": 3}
    assert client.post("/v1/groups", json=body).json["name"] == "Caf\u00e9 invented"
