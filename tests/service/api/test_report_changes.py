"""Correcting and taking back reports, each time against the version that was read."""

from __future__ import annotations

from threading import Barrier, Thread
from typing import Any

import pytest


@pytest.fixture
def path(world: Any) -> str:
    """Return the path of a report of the knitter."""
    return f"/reports/{world.mine.knitter.make('/reports', world.report(notes='first'))['id']}"


def test_a_correction_changes_what_is_given_and_raises_the_version(world: Any, path: str) -> None:
    knitter = world.mine.knitter
    before = knitter.get(path)
    answer = knitter.patch(path, {"fit_score": -1}, If_Match=before.headers["ETag"])
    assert answer.status_code == 200
    assert answer.headers["ETag"] not in (None, before.headers["ETag"])
    changed = {"fit_score": -1, "version": 2, "updated_at": answer.json["updated_at"]}
    assert answer.json == before.json | changed
    assert answer.json["updated_at"] > before.json["updated_at"]
    assert knitter.get(path).json == answer.json
    assert knitter.get(path).headers["ETag"] == answer.headers["ETag"]


def test_a_steward_corrects_the_reports_of_those_who_have_not_joined_and_no_other(
    world: Any, is_problem: Any, path: str
) -> None:
    steward = world.mine.steward
    made = steward.make("/reports", world.report(reporter="Wisteria", notes="first"))
    answer = steward.patch(f"/reports/{made['id']}", {"notes": None}, If_Match="*")
    assert (answer.json["notes"], answer.json["reporter"]) == (None, "Wisteria")
    is_problem(steward.patch(path, {"notes": None}, If_Match="*"), 404)
    is_problem(steward.delete(path, If_Match="*"), 404)
    assert world.mine.knitter.get(path).json["notes"] == "first"


def test_a_correction_without_the_version_is_428_and_changes_nothing(
    world: Any, is_problem: Any, path: str
) -> None:
    is_problem(world.mine.knitter.patch(path, {"fit_score": 2}), 428)
    is_problem(world.mine.knitter.delete(path), 428)
    assert world.mine.knitter.get(path).json["version"] == 1


def test_a_correction_of_an_older_version_is_412_and_changes_nothing(
    world: Any, is_problem: Any, path: str
) -> None:
    knitter = world.mine.knitter
    read = knitter.get(path).headers["ETag"]
    knitter.patch(path, {"fit_score": 1}, If_Match=read)
    is_problem(knitter.patch(path, {"fit_score": 2}, If_Match=read), 412)
    is_problem(knitter.delete(path, If_Match=read), 412)
    now = knitter.get(path).json
    assert (now["fit_score"], now["version"]) == (1, 2)


def test_what_was_read_and_has_not_changed_is_304_without_a_body(world: Any, path: str) -> None:
    knitter = world.mine.knitter
    read = knitter.get(path).headers["ETag"]
    again = knitter.get(path, If_None_Match=read)
    assert (again.status_code, again.data) == (304, b"")
    knitter.patch(path, {"fit_score": 1}, If_Match=read)
    assert knitter.get(path, If_None_Match=read).status_code == 200


def test_a_report_taken_back_is_gone(world: Any, is_problem: Any, path: str) -> None:
    knitter = world.mine.knitter
    answer = knitter.delete(path, If_Match=knitter.get(path).headers["ETag"])
    assert (answer.status_code, answer.data) == (204, b"")
    is_problem(knitter.get(path), 404)
    is_problem(knitter.delete(path, If_Match="*"), 404)
    assert knitter.items("/reports") == []


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"fit_score": 1, "heel_stitches": 20}, "/heel_stitches"),
        ({"fit_score": 1, "plain_rounds": 0, "heel_stitches": 65}, "/heel_stitches"),
        ({"fit_score": 1, "decreases_per_round": 16}, "/heel_stitches"),
        ({"fit_score": 1, "knitted_on": "2999-01-01"}, "/knitted_on"),
        ({"fit_score": 1, "rounds_per_10cm": 0}, "/rounds_per_10cm"),
        ({"fit_score": None}, "/fit_score"),
    ],
)
def test_a_correction_that_makes_a_report_impossible_changes_nothing(
    world: Any, faults: Any, path: str, change: dict[str, Any], pointer: str
) -> None:
    before = world.mine.knitter.get(path)
    answer = world.mine.knitter.patch(path, change, If_Match=before.headers["ETag"])
    assert list(faults(answer)) == [pointer]
    assert world.mine.knitter.get(path).json == before.json


@pytest.mark.parametrize("field", ["foot", "reporter", "design", "suggestion_id"])
def test_whose_foot_and_what_it_followed_cannot_be_corrected(
    world: Any, faults: Any, path: str, field: str
) -> None:
    answer = world.mine.knitter.patch(path, {field: "0" * 32}, If_Match="*")
    assert faults(answer)[f"/{field}"].startswith("no such field")


def test_of_corrections_at_once_one_wins_and_the_others_are_412(world: Any, path: str) -> None:
    read = world.mine.knitter.get(path).headers["ETag"]
    statuses: list[int] = []
    together = Barrier(6)

    def correct(score: int) -> None:
        together.wait()
        client = world.app.test_client()
        headers = {"Authorization": f"Bearer {world.mine.knitter.token}", "If-Match": read}
        where = f"/v1/groups/{world.mine.knitter.group_id}{path}"
        answer = client.patch(where, json={"fit_score": score % 3}, headers=headers)
        statuses.append(answer.status_code)

    threads = [Thread(target=correct, args=(n,)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(statuses) == [200, 412, 412, 412, 412, 412]
    assert world.mine.knitter.get(path).json["version"] == 2
