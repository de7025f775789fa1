"""Sharing what was learned, and using it, over HTTP. Every group is invented."""

from __future__ import annotations

import json
from typing import Any

import pytest

from models.actions.wider_pool import origin_of
from models.learning.summary import FEWEST_PEOPLE, FORM

POOL = "/wider-pool"
CONTRIBUTION, USE, SUMMARIES = f"{POOL}/contribution", f"{POOL}/use", f"{POOL}/summaries"
NOBODY = {"used": False, "used_since": None, "groups": 0, "people": 0, "contribution": None}


def calibrated(who: Any) -> dict[str, Any]:
    """Return the card of a new calibration."""
    made = who.make("/calibrations")
    card: dict[str, Any] = who.get(f"/calibrations/{made['id']}/card").json
    assert made["prior"] == card["prior"]
    return {**card, **made}


def test_a_group_shares_nothing_and_uses_nothing_until_a_steward_says_so(world: Any) -> None:
    world.well_known(world.mine.steward)
    for who in (world.mine.steward, world.theirs.knitter):
        assert who.get(POOL).json == NOBODY
    assert world.theirs.steward.items(SUMMARIES) == []


def test_a_contribution_is_shown_to_its_group_and_nameless_to_others(world: Any) -> None:
    mine, theirs = world.mine.steward, world.theirs.steward
    world.well_known(mine, people=64)
    shared = mine.make(CONTRIBUTION)["contribution"]
    assert shared["number"] == 1
    assert (shared["summary"]["form"], shared["summary"]["people"]) == (FORM, 60)
    assert world.mine.knitter.get(POOL).json["contribution"] == shared
    assert (theirs.get(POOL).json["groups"], theirs.get(POOL).json["people"]) == (1, 60)
    [listed] = theirs.items(SUMMARIES)
    assert listed["summary"] == shared["summary"]
    assert (listed["id"], listed["source"]) == (None, "here")
    told = json.dumps([listed, theirs.get(POOL).json])
    for secret in (mine.group_id, mine.member_id, "heron", "Ottoline"):
        assert secret not in told


def test_a_group_never_begins_with_what_it_shared_itself(world: Any, faults: Any) -> None:
    mine = world.mine.steward
    world.well_known(mine)
    own = mine.make(CONTRIBUTION)["contribution"]["summary"]
    mine.post(USE)
    assert mine.items(SUMMARIES) == []
    assert mine.get(POOL).json["groups"] == 0
    assert "count twice" in faults(mine.post(SUMMARIES, own))["/origin"]
    assert calibrated(mine)["prior"] == "geometry"


def test_a_pool_is_used_only_while_the_group_wants_it(world: Any) -> None:
    mine, theirs = world.mine.steward, world.theirs.steward
    world.well_known(mine)
    mine.make(CONTRIBUTION)
    before = calibrated(theirs)
    used = theirs.post(USE)
    assert (used.status_code, used.json["used"]) == (200, True)
    assert theirs.post(USE).json == used.json, "saying it twice changes nothing"
    during = calibrated(theirs)
    assert theirs.delete(USE).status_code == 204
    after = calibrated(theirs)
    assert before["prior"] == after["prior"] == "geometry"
    assert during["prior"] == "geometry and 1 group of 60 people or more"
    assert before["coefficients"] == after["coefficients"] != during["coefficients"]
    assert before["fingerprint"] == after["fingerprint"] != during["fingerprint"]


def test_a_revoked_contribution_is_gone_at_once_and_from_the_next_calibration(world: Any) -> None:
    mine, theirs = world.mine.steward, world.theirs.steward
    world.well_known(mine)
    mine.make(CONTRIBUTION)
    theirs.post(USE)
    with_it = calibrated(theirs)
    for _ in range(2):
        assert mine.delete(CONTRIBUTION).status_code == 204
    assert theirs.get(POOL).json["groups"] == 0
    assert theirs.items(SUMMARIES) == []
    assert mine.get(POOL).json["contribution"] is None
    assert calibrated(theirs)["prior"] == "geometry"
    kept = theirs.get(f"/calibrations/{with_it['id']}").json
    assert kept["coefficients"] == with_it["coefficients"], "what was made stays as it was made"


def test_a_contribution_stays_until_it_is_shared_anew(world: Any) -> None:
    mine, theirs = world.mine.steward, world.theirs.steward
    world.well_known(mine, people=60)
    mine.make(CONTRIBUTION)
    world.well_known(mine, people=90)
    assert theirs.get(POOL).json["people"] == 60, "nothing leaves a group by itself"
    assert mine.make(CONTRIBUTION)["contribution"]["number"] == 2
    assert (theirs.get(POOL).json["groups"], theirs.get(POOL).json["people"]) == (1, 90)


def test_fewer_than_fifty_people_share_nothing(world: Any, faults: Any) -> None:
    mine = world.mine.steward
    mine.make("/calibrations")
    assert f"{FEWEST_PEOPLE} or more" in faults(mine.post(CONTRIBUTION))["/reporters"]
    world.well_known(mine, people=49)
    assert f"{FEWEST_PEOPLE} or more" in faults(mine.post(CONTRIBUTION))["/reporters"]
    assert mine.get(POOL).json["contribution"] is None


def test_figures_that_are_withheld_are_not_shared_either(world: Any, is_problem: Any) -> None:
    mine = world.mine.steward
    world.well_known(mine, published=False)
    assert "withheld" in is_problem(mine.post(CONTRIBUTION), 409)["detail"]


def test_where_no_calibration_answers_there_is_nothing_to_share(
    world: Any, is_problem: Any
) -> None:
    is_problem(world.mine.steward.post(CONTRIBUTION), 409)


def test_a_withheld_successor_leaves_what_was_shared_as_it_was(world: Any, is_problem: Any) -> None:
    mine = world.mine.steward
    world.well_known(mine)
    shared = mine.make(CONTRIBUTION)["contribution"]
    world.well_known(mine, people=61, published=False)
    is_problem(mine.post(CONTRIBUTION), 409)
    assert mine.get(POOL).json["contribution"] == shared


def test_what_was_exported_can_be_taken_in_elsewhere_and_dropped_again(world: Any) -> None:
    mine, theirs = world.mine.steward, world.theirs.steward
    taken = mine.make(SUMMARIES, world.summary(origin="ab" * 16))
    assert mine.items(SUMMARIES) == [taken]
    assert taken["source"] == "taken in"
    assert theirs.items(SUMMARIES) == [], "it is there for the group that took it in"
    mine.post(USE)
    assert calibrated(mine)["prior"] == "geometry and 1 group of 60 people or more"
    passed_on = theirs.make(SUMMARIES, taken["summary"])
    assert passed_on["summary"] == taken["summary"]
    assert mine.delete(f"{SUMMARIES}/{taken['id']}").status_code == 204
    assert mine.delete(f"{SUMMARIES}/{taken['id']}").status_code == 404
    assert mine.items(SUMMARIES) == []
    assert len(theirs.items(SUMMARIES)) == 1


def test_one_group_counts_once_however_its_summaries_came(world: Any) -> None:
    mine, theirs = world.mine.steward, world.theirs.steward
    world.well_known(mine)
    summary = mine.make(CONTRIBUTION)["contribution"]["summary"]
    theirs.make(SUMMARIES, {**summary, "people": 500})
    theirs.make(SUMMARIES, {**summary, "people": 700})
    [listed] = theirs.items(SUMMARIES)
    assert (listed["source"], listed["summary"]["people"]) == ("here", 60)
    mine.delete(CONTRIBUTION)
    [listed] = theirs.items(SUMMARIES)
    assert (listed["source"], listed["summary"]["people"]) == ("taken in", 700)


def test_an_origin_says_nothing_of_the_group(world: Any) -> None:
    mine = world.mine.steward.group_id
    assert origin_of(mine) == origin_of(mine) != origin_of(world.theirs.steward.group_id)
    assert mine not in origin_of(mine)


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"form": "heeldepth summary 0"}, "/form"),
        ({"people": 49}, "/people"),
        ({"people": 60.5}, "/people"),
        ({"reports": "720"}, "/reports"),
        ({"origin": "x"}, "/origin"),
        ({"coefficients": []}, "/coefficients"),
        ({"rows": []}, "/rows"),
    ],
)
def test_what_cannot_be_a_summary_is_refused(
    world: Any, faults: Any, changed: dict[str, Any], pointer: str
) -> None:
    assert pointer in faults(world.mine.steward.post(SUMMARIES, world.summary(**changed)))
    assert world.mine.steward.items(SUMMARIES) == []


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"term": "heel"}, "/coefficients/0/term"),
        ({"estimate": 1e9}, "/coefficients/0/estimate"),
        ({"precision": 0}, "/coefficients/0/precision"),
        ({"precision": 1e7}, "/coefficients/0/precision"),
        ({"precision": None}, "/coefficients/0/precision"),
        ({"people": 3}, "/coefficients/0/people"),
    ],
)
def test_figures_that_no_group_has_are_refused(
    world: Any, faults: Any, changed: dict[str, Any], pointer: str
) -> None:
    body = world.summary()
    body["coefficients"] = [{**body["coefficients"][0], **changed}]
    assert pointer in faults(world.mine.steward.post(SUMMARIES, body))


def test_a_term_named_twice_is_refused(world: Any, faults: Any) -> None:
    body = world.summary()
    body["coefficients"] *= 2
    assert "/coefficients/1/term" in faults(world.mine.steward.post(SUMMARIES, body))


def test_a_group_takes_in_so_many_and_no_more(
    world: Any, is_problem: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("models.actions.sharing.MOST_TAKEN", 2)
    mine = world.mine.steward
    for number in range(2):
        mine.make(SUMMARIES, world.summary(origin=f"{number:032x}"))
    is_problem(mine.post(SUMMARIES, world.summary(origin="f" * 32)), 409)
    mine.make(SUMMARIES, world.summary(origin=f"{1:032x}", people=80))
    assert [one["summary"]["people"] for one in mine.items(SUMMARIES)] == [60, 80]


def test_an_answer_that_only_a_pool_stands_behind_says_so(world: Any) -> None:
    mine = world.mine.steward
    mine.make(SUMMARIES, world.summary())
    mine.post(USE)
    mine.make("/calibrations")
    found = mine.make("/suggestions", world.question())
    codes = [one["code"] for one in found["warnings"]]
    assert "wider_pool_alone" in codes
    assert "geometry_alone" not in codes
