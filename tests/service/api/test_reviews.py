"""The review queue over HTTP: who sees it, who decides, and what a reporter sees of it."""

from __future__ import annotations

from typing import Any

import pytest

from models.domain.reviews import REASONS, Reason

FINE = {"foot_length_mm": 251.3, "foot_circumference_mm": 231.7, "heel_diagonal_mm": 313.9}
COPY = REASONS[Reason.COPY]


@pytest.fixture
def held(world: Any) -> str:
    """Return the path of a report of the knitter that is held as a copy of the steward's."""
    world.mine.steward.make("/reports", world.report(foot=FINE))
    made = world.mine.knitter.make("/reports", world.report(foot=FINE))
    assert (made["status"], made["held_because"]) == ("counted", None)
    world.mine.steward.make("/calibrations")
    return f"/reports/{made['id']}"


def test_a_calibration_holds_a_copy_and_does_not_learn_from_it(world: Any, held: str) -> None:
    (made,) = world.mine.steward.items("/calibrations")
    assert (made["reports"], made["reporters"]) == (1, 1)
    shown = world.mine.knitter.get(held).json
    assert (shown["status"], shown["held_because"]) == ("held", COPY)
    assert world.mine.knitter.items("/reports") == [shown]


def test_the_queue_shows_report_foot_reporter_and_reason(world: Any, held: str) -> None:
    (waiting,) = world.mine.steward.items("/reviews")
    assert waiting["reporter"] == "Kestrel"
    assert waiting["held_because"] == COPY
    assert waiting.items() >= FINE.items()
    assert waiting.items() >= world.mine.knitter.get(held).json.items()
    assert world.theirs.steward.items("/reviews") == []


def test_the_queue_comes_in_pages(world: Any) -> None:
    for name in ("Ada", "Bea", "Cleo"):
        world.mine.steward.make("/reports", world.report(foot=FINE, reporter=name))
    world.mine.steward.make("/calibrations")
    first = world.mine.steward.get("/reviews?limit=1").json
    assert len(first["items"]) == 1
    second = world.mine.steward.get(f"/reviews?limit=1&cursor={first['next']}").json
    names = [one["items"][0]["reporter"] for one in (first, second)]
    assert (names, second["next"]) == (["Bea", "Cleo"], None)


@pytest.mark.parametrize("role", ["knitter", "designer"])
def test_only_stewards_review(world: Any, is_problem: Any, held: str, role: str) -> None:
    other = world.member(world.mine.steward.group_id, "Wren", role)
    is_problem(other.get("/reviews"), 403)
    for who in (other, world.mine.knitter):
        is_problem(who.post(f"{held}/reviews", {"status": "accepted"}), 403)
    is_problem(other.get(f"{held}/reviews"), 404)
    assert world.mine.knitter.get(held).json["status"] == "held"


def test_an_accepted_report_counts_and_is_not_doubted_again(world: Any, held: str) -> None:
    body = {"status": "accepted", "text": "two invented test knitters, one foot"}
    answer = world.mine.steward.post(f"{held}/reviews", body)
    assert answer.status_code == 201
    assert answer.headers["Location"].endswith(f"{held}/reviews")
    shown = world.mine.knitter.get(held).json
    assert (shown["status"], shown["held_because"]) == ("accepted", None)
    assert world.mine.steward.make("/calibrations")["reports"] == 2
    steps = world.mine.knitter.items(f"{held}/reviews")
    assert steps == world.mine.steward.items(f"{held}/reviews")
    told = [(one["status"], one["reason"], one["text"], one["reviewer"]) for one in steps]
    assert told == [
        ("held", COPY, None, None),
        ("accepted", None, "two invented test knitters, one foot", "Ottoline"),
    ]
    assert steps[1] == answer.json
    assert steps[0]["created_at"] < steps[1]["created_at"]


def test_a_rejected_report_stays_and_does_not_count(world: Any, held: str) -> None:
    world.mine.steward.make(f"{held}/reviews", {"status": "rejected"})
    assert world.mine.knitter.get(held).json["status"] == "rejected"
    assert world.mine.steward.make("/calibrations")["reports"] == 1
    assert world.mine.steward.items("/reviews") == []


def test_of_two_stewards_at_once_the_later_learns_what_the_first_decided(
    world: Any, is_problem: Any, held: str
) -> None:
    path = f"{held}/reviews"
    world.mine.steward.make(path, {"status": "accepted"})
    body = is_problem(world.mine.steward.post(path, {"status": "rejected"}), 409)
    assert "the report is accepted, not held" in body["detail"]
    changed = {"status": "rejected", "from": "accepted"}
    assert world.mine.steward.post(path, changed).status_code == 201


@pytest.mark.parametrize("since", ["counted", "held", "accepted", "rejected"])
def test_a_step_that_cannot_be_taken_names_those_that_can(
    world: Any, is_problem: Any, since: str
) -> None:
    made = world.mine.knitter.make("/reports", world.report())
    path = f"/reports/{made['id']}/reviews"
    body = {"status": "accepted", "from": since}
    told = is_problem(world.mine.steward.post(path, body), 409)["detail"]
    expected = "it can become held" if since == "counted" else f"is counted, not {since}"
    assert expected in told


def test_a_steward_may_hold_a_report_that_nothing_speaks_against(world: Any) -> None:
    made = world.mine.knitter.make("/reports", world.report())
    body = {"status": "held", "from": "counted", "text": "is this the same sock?"}
    world.mine.steward.make(f"/reports/{made['id']}/reviews", body)
    shown = world.mine.knitter.get(f"/reports/{made['id']}").json
    assert (shown["status"], shown["held_because"]) == ("held", None)


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({}, "/status"),
        ({"status": "counted"}, "/status"),
        ({"status": None}, "/status"),
        ({"status": "accepted", "from": "doubted"}, "/from"),
        ({"status": "accepted", "text": "x" * 501}, "/text"),
        ({"status": "accepted", "reason": "copy"}, "/reason"),
    ],
)
def test_what_a_review_says_is_checked(world: Any, faults: Any, held: str, body, pointer) -> None:
    assert pointer in faults(world.mine.steward.post(f"{held}/reviews", body))
    assert world.mine.knitter.get(held).json["status"] == "held"


def test_a_review_sent_twice_with_one_key_is_done_once(world: Any, held: str) -> None:
    for _ in range(2):
        answer = world.mine.steward.post(
            f"{held}/reviews", {"status": "accepted"}, Idempotency_Key="decided"
        )
        assert answer.status_code == 201
    assert len(world.mine.steward.items(f"{held}/reviews")) == 2


def test_a_corrected_report_counts_again(world: Any, held: str) -> None:
    knitter = world.mine.knitter
    answer = knitter.patch(held, {"fit_score": 1}, If_Match=knitter.get(held).headers["ETag"])
    assert (answer.json["status"], answer.json["held_because"]) == ("counted", None)
    assert world.mine.steward.make("/calibrations")["reports"] == 2
    last = knitter.items(f"{held}/reviews")[-1]
    assert (last["status"], last["reviewer"]) == ("counted", "Kestrel")


def test_a_foot_measured_again_answers_the_doubt_about_it(world: Any, faults: Any) -> None:
    knitter = world.mine.knitter
    odd = world.foot(heel_diagonal_mm=405)
    path = f"/reports/{knitter.make('/reports', world.report(foot=odd))['id']}"
    world.mine.steward.make("/calibrations")
    assert knitter.get(path).json["held_because"] == REASONS[Reason.IMPLAUSIBLE_FOOT]
    another = world.mine.steward.make("/feet", world.foot())["id"]
    answer = knitter.patch(path, {"foot_id": another}, If_Match="*")
    assert faults(answer) == {"/foot_id": "it must be a foot of the reporter"}
    again = knitter.make("/feet", world.foot(heel_diagonal_mm=305))["id"]
    answer = knitter.patch(path, {"foot_id": again}, If_Match="*")
    assert (answer.json["foot_id"], answer.json["status"]) == (again, "counted")


def test_holding_a_report_makes_what_was_read_of_it_old(world: Any, is_problem: Any) -> None:
    world.mine.steward.make("/reports", world.report(foot=FINE))
    made = world.mine.knitter.make("/reports", world.report(foot=FINE))
    path = f"/reports/{made['id']}"
    read = world.mine.knitter.get(path).headers["ETag"]
    world.mine.steward.make("/calibrations")
    is_problem(world.mine.knitter.patch(path, {"fit_score": 1}, If_Match=read), 412)


def test_status_and_reason_cannot_be_written(world: Any, faults: Any, held: str) -> None:
    for field in ("status", "held_because"):
        answer = world.mine.knitter.patch(held, {field: "counted"}, If_Match="*")
        assert f"/{field}" in faults(answer)
        answer = world.mine.knitter.post("/reports", world.report(**{field: "accepted"}))
        assert f"/{field}" in faults(answer)


def test_a_held_report_can_be_taken_back_with_all_that_was_said_of_it(
    world: Any, is_problem: Any, held: str
) -> None:
    assert world.mine.knitter.delete(held, If_Match="*").status_code == 204
    is_problem(world.mine.steward.get(f"{held}/reviews"), 404)
    assert world.mine.steward.items("/reviews") == []


def test_nobody_who_may_not_calibrate_holds_anything(world: Any, is_problem: Any) -> None:
    for who in (world.mine.steward, world.mine.knitter):
        who.make("/reports", world.report(foot=FINE))
    is_problem(world.mine.knitter.post("/calibrations"), 403)
    assert world.mine.steward.items("/reviews") == []


def test_a_steward_reads_and_corrects_a_held_report_and_no_other(
    world: Any, is_problem: Any, held: str
) -> None:
    steward, knitter = world.mine.steward, world.mine.knitter
    other = f"/reports/{knitter.make('/reports', world.report())['id']}"
    is_problem(steward.get(other), 404)
    is_problem(steward.patch(other, {"fit_score": 1}, If_Match="*"), 404)
    assert held.rsplit("/", 1)[1] not in [one["id"] for one in steward.items("/reports")]
    is_problem(steward.delete(held, If_Match="*"), 404)
    read = steward.get(held)
    assert read.json == knitter.get(held).json
    answer = steward.patch(held, {"fit_score": 1}, If_Match=read.headers["ETag"])
    assert (answer.json["fit_score"], answer.json["status"]) == (1, "counted")
    is_problem(steward.get(held), 404)
    assert knitter.items(f"{held}/reviews")[-1]["reviewer"] == "Ottoline"


def test_a_steward_sees_what_became_of_a_report_but_not_what_it_says(world: Any, held: str) -> None:
    world.mine.steward.make(f"{held}/reviews", {"status": "accepted"})
    steps = world.mine.steward.get(f"{held}/reviews")
    assert [one["status"] for one in steps.json["items"]] == ["held", "accepted"]
    for name in (*FINE, "fit_score"):
        assert name not in steps.text
    assert world.mine.steward.get(held).status_code == 404


def hold_by_hand(world: Any, report_id: str, since: str = "counted") -> None:
    world.mine.steward.make(f"/reports/{report_id}/reviews", {"status": "held", "from": since})


def test_a_hold_by_hand_lets_no_steward_read_a_member_who_has_joined(
    world: Any, is_problem: Any
) -> None:
    knitter, steward = world.mine.knitter, world.mine.steward
    made = knitter.make("/reports", world.report(notes="an invented note"))
    hold_by_hand(world, made["id"])
    is_problem(steward.get(f"/reports/{made['id']}"), 404)
    [waiting] = steward.items("/reviews")
    told = {name for name, value in waiting.items() if value is not None}
    assert told == {"id", "reporter", "status", "created_at", "updated_at", "withheld"}
    assert waiting["withheld"] is True
    knitter.patch(f"/reports/{made['id']}", {"notes": "another note"}, If_Match="*")
    assert steward.items("/reviews")[0]["notes"] is None, "a note answers no doubt"
    knitter.patch(f"/reports/{made['id']}", {"fit_score": 2}, If_Match="*")
    assert steward.items("/reviews") == [], "corrected, it counts again"
    hold_by_hand(world, made["id"])
    assert steward.items("/reviews")[0]["withheld"] is True


def test_a_doubt_of_old_opens_nothing_to_a_hold_by_hand_of_today(world: Any, held: str) -> None:
    steward = world.mine.steward
    assert steward.items("/reviews")[0]["withheld"] is False
    steward.make(f"{held}/reviews", {"status": "accepted"})
    hold_by_hand(world, held.rsplit("/", 1)[-1], since="accepted")
    assert steward.items("/reviews")[0]["withheld"] is True


def test_a_correction_of_what_was_accepted_is_an_answer_that_stewards_read(
    world: Any, held: str
) -> None:
    world.mine.steward.make(f"{held}/reviews", {"status": "accepted"})
    world.mine.knitter.patch(held, {"fit_score": 1}, If_Match="*")
    [waiting] = world.mine.steward.items("/reviews")
    assert (waiting["withheld"], waiting["fit_score"]) == (False, 1)


def test_what_a_steward_wrote_down_for_others_stays_readable_when_held(world: Any) -> None:
    made = world.mine.steward.make("/reports", world.report(reporter="Fulmar"))
    hold_by_hand(world, made["id"])
    [waiting] = world.mine.steward.items("/reviews")
    assert (waiting["withheld"], waiting["fit_score"]) == (False, 0)
