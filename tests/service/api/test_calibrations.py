"""Calibrating, and choosing which calibration answers."""

from __future__ import annotations

from typing import Any

import pytest

from models.actions.actor import operator
from models.domain.errors import Busy
from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from service.api import calibrations
from service.calibrating import one_at_a_time


def report_as(world: Any, names: int) -> None:
    """Let the steward of `mine` report one sock for each of some invented reporters."""
    for number in range(names):
        sock = {"slow_decrease_rounds": number % 5, "fit_score": number % 5 - 2}
        foot = world.foot(foot_length_mm=236 + 3 * number, heel_diagonal_mm=300 + 3 * number)
        body = world.report(reporter=f"Invented {number}", foot=foot, **sock)
        world.mine.steward.make("/reports", body)


def test_a_calibration_without_reports_is_the_geometry_alone(world: Any) -> None:
    made = world.mine.steward.make("/calibrations")
    assert (made["number"], made["reports"], made["reporters"]) == (1, 0, 0)
    assert (made["active"], made["standing"], made["withheld"]) == (True, "active", None)
    assert made["reasons"] == ["too few people to compare"]


def test_a_calibration_tells_what_it_rests_on(world: Any) -> None:
    report_as(world, FEWEST_REPORTERS_SHOWN)
    answer = world.mine.steward.post("/calibrations")
    assert answer.status_code == 201
    assert (answer.json["reports"], answer.json["reporters"]) == (10, 10)
    assert answer.json["noise_variance"] > 0
    assert all(one["standard_error"] > 0 for one in answer.json["coefficients"])
    assert world.mine.steward.get(answer.headers["Location"]).json == answer.json


def test_coefficients_are_withheld_below_ten_reporters(world: Any) -> None:
    report_as(world, FEWEST_REPORTERS_SHOWN - 1)
    report_as(world, FEWEST_REPORTERS_SHOWN - 1)
    path = world.mine.steward.post("/calibrations").headers["Location"]
    counts = {world.mine.steward: (18, 9), world.mine.knitter: (None, None)}
    for who, counted in counts.items():
        read = who.get(path).json
        [listed] = who.items("/calibrations")
        assert (read["reports"], read["reporters"]) == counted
        assert (listed["reports"], listed["reporters"]) == counted
        shown = [read[name] for name in ("coefficients", "noise_variance", "fingerprint")]
        assert shown == [None, None, None]
        assert read["withheld"] == "too few people yet"


def test_the_same_reports_give_the_same_fingerprint_and_coefficients(world: Any) -> None:
    report_as(world, FEWEST_REPORTERS_SHOWN)
    one, two = (world.mine.steward.make("/calibrations") for _ in range(2))
    assert (one["number"], two["number"]) == (1, 2)
    for same in ("fingerprint", "coefficients", "noise_variance"):
        assert one[same] == two[same]
    world.mine.knitter.make("/reports", world.report())
    assert world.mine.steward.make("/calibrations")["fingerprint"] != one["fingerprint"]


def test_reports_of_another_group_do_not_count(world: Any) -> None:
    world.theirs.steward.make("/reports", world.report())
    assert world.mine.steward.make("/calibrations")["reports"] == 0


def test_the_calibration_activated_last_is_the_active_one(world: Any) -> None:
    steward = world.mine.steward
    first, second = (steward.make("/calibrations")["id"] for _ in range(2))
    for chosen in (first, second, first, first):
        answer = steward.post(f"/calibrations/{chosen}/activation")
        assert (answer.status_code, answer.json["active"]) == (200, True)
        active = [one["id"] for one in steward.items("/calibrations") if one["active"]]
        assert active == [chosen]
    assert steward.get(f"/calibrations/{second}").json["active"] is False


def test_calibrating_and_activating_need_no_body_at_all(world: Any) -> None:
    steward = world.mine.steward
    made = steward.ask("POST", "/calibrations")
    assert made.status_code == 201
    assert steward.ask("POST", f"{made.headers['Location']}/activation").status_code == 200
    steward.make("/calibrations")
    assert steward.ask("POST", "/rollbacks").status_code == 200


def test_a_knitter_may_neither_calibrate_nor_activate(world: Any, is_problem: Any) -> None:
    made = world.mine.steward.make("/calibrations")["id"]
    assert "knitter" in is_problem(world.mine.knitter.post("/calibrations"), 403)["detail"]
    is_problem(world.mine.knitter.post(f"/calibrations/{made}/activation"), 403)
    listed = world.mine.knitter.items("/calibrations")
    assert [(one["id"], one["standing"]) for one in listed] == [(made, "active")]
    is_problem(world.mine.knitter.post("/rollbacks"), 403)


@pytest.mark.parametrize("role", ["designer", "steward"])
def test_designers_and_stewards_calibrate_and_activate(world: Any, role: str) -> None:
    who = world.member(world.mine.steward.group_id, "Wisteria", role)
    made = who.make("/calibrations")["id"]
    assert who.post(f"/calibrations/{made}/activation").json["active"] is True


def test_one_call_lets_the_calibration_before_answer_again(world: Any, is_problem: Any) -> None:
    steward = world.mine.steward
    made = []
    for score in (0, 1, -1):
        world.mine.knitter.make("/reports", world.report(fit_score=score))
        made.append(steward.make("/calibrations")["id"])
    for number in (1, 0):
        back = steward.post("/rollbacks").json
        assert (back["id"], back["standing"]) == (made[number], "active")
        assert back["reasons"][0] == "rolled back"
        answer = world.mine.knitter.make("/suggestions", world.question())
        assert answer["calibration_id"] == made[number]
    assert "nothing to go back to" in is_problem(steward.post("/rollbacks"), 409)["detail"]
    standings = [one["standing"] for one in steward.items("/calibrations")]
    assert standings == ["active", "replaced", "replaced"]


def test_what_was_rolled_back_waits_when_the_same_reports_give_it_again(world: Any) -> None:
    steward = world.mine.steward
    for score in (0, 1):
        world.mine.knitter.make("/reports", world.report(fit_score=score))
        steward.make("/calibrations")
    steward.post("/rollbacks")
    again = steward.make("/calibrations")
    assert (again["active"], again["standing"]) == (False, "waiting")
    assert "the same reports gave calibration 2, which was rolled back" in again["reasons"]
    chosen = steward.post(
        f"/calibrations/{again['id']}/activation", {"reason": "looked at by hand"}
    ).json
    assert chosen["standing"] == "active"
    assert chosen["reasons"][0] == "chosen by a designer: looked at by hand"


@pytest.mark.parametrize("reason", ["", "two\nlines", "x" * 401, 7])
def test_a_reason_is_a_line_of_text(world: Any, faults: Any, reason: Any) -> None:
    made = world.mine.steward.make("/calibrations")["id"]
    world.mine.steward.make("/calibrations")
    found = faults(world.mine.steward.post(f"/calibrations/{made}/activation", {"reason": reason}))
    assert found == {"/reason": "text of 1 to 400 characters in one line"}


def test_a_card_is_for_all_members_and_withheld_below_ten_people(world: Any) -> None:
    report_as(world, FEWEST_REPORTERS_SHOWN - 1)
    path = f"/calibrations/{world.mine.steward.make('/calibrations')['id']}/card"
    for who in (world.mine.steward, world.mine.knitter):
        card = who.get(path).json
        assert (card["withheld"], card["sections"]) == ("too few people yet", [])
        assert card["fingerprint"] is None
    report_as(world, FEWEST_REPORTERS_SHOWN)
    path = f"/calibrations/{world.mine.steward.make('/calibrations')['id']}/card"
    whole, coarse = (who.get(path).json for who in (world.mine.steward, world.mine.knitter))
    keys = [section["key"] for section in whole["sections"]]
    assert {"effects", "reliability", "coverage", "comparison", "unusual_offsets"} <= set(keys)
    shown = ["effects", "reference_feet", "scores_by_depth"]
    assert [section["key"] for section in coarse["sections"]] == shown
    for section in (*whole["sections"], *coarse["sections"]):
        assert all(row["people"] is None or row["people"] >= 10 for row in section["rows"])


def test_a_group_that_is_being_calibrated_is_not_calibrated_at_the_same_time(
    world: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(calibrations, "PATIENCE_S", 0)
    steward = world.mine.steward
    with one_at_a_time(world.database, operator(steward.group_id)):
        asked = steward.post("/calibrations")
        assert (asked.status_code, asked.json["kind"]) == (202, "calibration")
        assert asked.headers["Location"].endswith(f"/jobs/{asked.json['id']}")
        assert world.theirs.steward.post("/calibrations").status_code == 201
    assert steward.post("/calibrations").status_code == 201
    assert steward.post("/calibrations").status_code == 201, "the turn was given back at the end"
    world.work()
    assert steward.get(f"/jobs/{asked.json['id']}").json["state"] == "done"


def test_a_calibration_that_finds_all_processes_busy_becomes_a_job(
    world: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Full:
        def run(self, *_: Any) -> Any:
            raise Busy("invented")

    monkeypatch.setitem(world.app.extensions, "heeldepth_workroom", Full())
    steward = world.mine.steward
    asked = steward.post("/calibrations")
    assert (asked.status_code, asked.json["kind"]) == (202, "calibration")
    assert steward.post("/calibrations").status_code == 202, "the turn was given back"
