"""A POST with an `Idempotency-Key` is done once, however often it is sent."""

from __future__ import annotations

from datetime import timedelta
from threading import Barrier, Thread
from typing import Any

import pytest
from sqlalchemy import text
from werkzeug.test import TestResponse

from models.tables.base import now
from models.tables.people import IdempotencyKey

THREADS = 20


def rows(world: Any) -> int:
    with world.database.read() as session:
        return int(session.query(IdempotencyKey).count())


def test_the_same_request_is_answered_again_but_done_once(world: Any) -> None:
    steward = world.mine.steward
    first, second = (
        steward.post("/reports", world.report(), Idempotency_Key="one") for _ in range(2)
    )
    assert (first.status_code, second.status_code) == (201, 201)
    assert first.data == second.data
    assert first.headers["Location"] == second.headers["Location"]
    assert "Idempotent-Replay" not in first.headers
    assert second.headers["Idempotent-Replay"] == "true"
    assert first.headers["ETag"] == second.headers["ETag"]
    assert len(steward.items("/reports")) == len(steward.items("/feet")) == 1


@pytest.mark.parametrize("path", ["/feet", "/reports", "/suggestions", "/calibrations"])
def test_every_post_inside_a_group_takes_a_key(world: Any, path: str) -> None:
    bodies = {"/feet": world.foot(), "/reports": world.report(), "/suggestions": world.question()}
    answers = [
        world.mine.steward.post(path, bodies.get(path), Idempotency_Key="one") for _ in range(2)
    ]
    assert answers[0].json["id"] == answers[1].json["id"]


def test_an_activation_sent_again_does_not_undo_a_later_one(world: Any) -> None:
    steward = world.mine.steward
    first, second = (steward.make("/calibrations")["id"] for _ in range(2))
    for chosen, key in ((first, "a"), (second, "b"), (first, "a")):
        steward.post(f"/calibrations/{chosen}/activation", Idempotency_Key=key)
    assert [one["id"] for one in steward.items("/calibrations") if one["active"]] == [second]


def test_a_key_with_another_body_or_path_is_refused(world: Any, is_problem: Any) -> None:
    steward = world.mine.steward
    steward.post("/feet", world.foot(), Idempotency_Key="one")
    others = [
        ("/feet", world.foot(foot_length_mm=251)),
        ("/reports", world.report()),
        ("/feet?x=1", world.foot()),
    ]
    for path, body in others:
        problem = is_problem(steward.post(path, body, Idempotency_Key="one"), 422)
        assert "another request" in problem["detail"]
    assert len(steward.items("/feet")) == 1


def test_without_a_key_every_post_is_done(world: Any) -> None:
    made = {world.mine.steward.make("/feet", world.foot())["id"] for _ in range(2)}
    assert len(made) == 2
    assert rows(world) == 0


def test_the_key_of_a_request_that_failed_can_be_used_again(world: Any, faults: Any) -> None:
    steward = world.mine.steward
    for wrong in ({"fit_score": 9}, {"reporter": "Wisteria", "fast_decrease_rounds": 90}):
        faults(steward.post("/reports", world.report(**wrong), Idempotency_Key="one"))
    assert rows(world) == 0
    assert steward.post("/reports", world.report(), Idempotency_Key="one").status_code == 201


def test_the_keys_of_two_people_have_nothing_to_do_with_each_other(world: Any) -> None:
    people = [world.mine.steward, world.mine.knitter, world.theirs.steward]
    answers = [who.post("/feet", world.foot(), Idempotency_Key="one") for who in people]
    assert len({answer.json["id"] for answer in answers}) == 3
    assert all("Idempotent-Replay" not in answer.headers for answer in answers)
    again = [who.post("/feet", world.foot(), Idempotency_Key="one") for who in people]
    assert [answer.data for answer in again] == [answer.data for answer in answers]


def test_a_key_is_not_remembered_for_whoever_may_not_ask(world: Any, is_problem: Any) -> None:
    foreign = f"/v1/groups/{world.theirs.steward.group_id}/feet"
    is_problem(world.mine.steward.post(foreign, world.foot(), Idempotency_Key="one"), 404)
    is_problem(world.mine.knitter.post("/calibrations", {}, Idempotency_Key="one"), 403)
    assert rows(world) == 0


def test_a_key_is_kept_for_a_day_and_free_afterwards(world: Any) -> None:
    steward = world.mine.steward
    first = steward.post("/feet", world.foot(), Idempotency_Key="one").json
    for age, same in ((timedelta(hours=23), True), (timedelta(hours=25), False)):
        with world.database.write.begin() as session:
            session.query(IdempotencyKey).one().created_at = now() - age
        again = steward.post("/feet", world.foot(), Idempotency_Key="one").json
        assert (again["id"] == first["id"]) is same
    assert rows(world) == 1


def test_the_answer_about_a_report_is_forgotten_with_the_report(world: Any) -> None:
    steward = world.mine.steward
    made = steward.post("/reports", world.report(notes="invented"), Idempotency_Key="one").json
    steward.delete(f"/reports/{made['id']}", If_Match="*")
    assert rows(world) == 0


@pytest.mark.parametrize("key", ["", "x" * 256, "a\tb", "\x7f"])
def test_a_key_that_cannot_be_kept_is_refused(lasting: Any, faults: Any, key: str) -> None:
    found = faults(lasting.mine.steward.post("/feet", lasting.foot(), Idempotency_Key=key))
    assert "1 to 255" in found["/Idempotency-Key"]


@pytest.mark.parametrize("key", ["x", "x" * 255, "\u00e9", "a key, with words; '\" --"])
def test_any_printable_key_can_be_kept(world: Any, key: str) -> None:
    first, second = (
        world.mine.steward.post("/feet", world.foot(), Idempotency_Key=key) for _ in range(2)
    )
    assert first.json == second.json


def at_once(world: Any, headers: dict[str, str]) -> list[TestResponse]:
    """Return the answers to the same report sent by many threads at the same moment."""
    together = Barrier(THREADS)
    answers: list[TestResponse] = []

    def send() -> None:
        client = world.app.test_client()
        together.wait()
        path = f"/v1/groups/{world.mine.steward.group_id}/reports"
        answers.append(client.post(path, json=world.report(), headers=headers))

    threads = [Thread(target=send) for _ in range(THREADS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


def test_of_many_at_once_with_one_key_one_is_done_and_all_get_its_answer(world: Any) -> None:
    token = {"Authorization": f"Bearer {world.mine.steward.token}"}
    answers = at_once(world, {**token, "Idempotency-Key": "one"})
    assert [answer.status_code for answer in answers] == [201] * THREADS
    assert len({answer.data for answer in answers}) == 1
    assert len(world.mine.steward.items("/reports")) == 1
    assert rows(world) == 1


def test_of_many_at_once_without_a_key_all_are_done(world: Any) -> None:
    answers = at_once(world, {"Authorization": f"Bearer {world.mine.steward.token}"})
    assert [answer.status_code for answer in answers] == [201] * THREADS
    assert len(world.mine.steward.items("/reports")) == THREADS


@pytest.mark.only_on("sqlite")
def test_old_keys_are_found_by_an_index_however_many_are_kept(world: Any) -> None:
    """Every POST with a key looks for them while it holds the write lock."""
    old = "DELETE FROM idempotency_keys WHERE person_id = :who AND created_at <= :then"
    with world.database.read() as session:
        steps = session.execute(text(f"EXPLAIN QUERY PLAN {old}"), {"who": "", "then": ""})
        plan = " ".join(step.detail for step in steps)
    assert "created_at<?" in plan, plan
