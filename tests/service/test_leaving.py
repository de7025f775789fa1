"""Who is erased leaves nothing behind, and what is learned without them is as if they had not been.

All names are invented; feet are drawn from the survey's published figures.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from shutil import copyfile
from typing import Any

import numpy as np
import pytest
from sqlalchemy import String, cast, or_, select

from models.actions import judging
from models.actions.actor import operator
from models.actions.calibrations import keep_calibration
from models.tables.base import Base
from models.tables.engine import Database
from models.tables.learned import Calibration
from models.tables.people import Group, Member
from models.tables.socks import Foot, Report
from seed_demo import people

CANARY = "canary7Zr"
PASSWORD = "invented password"  # noqa: S105
FOOT = {
    "foot_length_mm": 251.77,
    "foot_circumference_mm": 233.31,
    "heel_diagonal_mm": 317.93,
}
OTHERS = 199


def others(number: int = OTHERS, socks: int = 3) -> list[tuple[str, dict[str, Any]]]:
    """Return invented reporters and reports, always the same."""
    told = list(people.reports(seed=7))
    draw = np.random.default_rng(11)
    found = []
    for n in range(number * socks):
        report = json.loads(json.dumps(told[n % len(told)]))
        report.pop("reporter")
        for name in report["foot"]:
            report["foot"][name] = round(report["foot"][name] + draw.normal(0, 4), 1)
        found.append((f"Invented {n // socks}", report))
    return found


def fill(database: Database, group_id: str, told: list[tuple[str, dict[str, Any]]]) -> None:
    """Store reports of reporters who have not joined."""
    with database.write.begin() as session:
        names = dict.fromkeys(name for name, _ in told)
        members = [Member(group_id=group_id, name=name, role="knitter") for name in names]
        session.add_all(members)
        session.flush()
        whose = {row.name: {"group_id": group_id, "member_id": row.id} for row in members}
        feet = [Foot(**whose[name], **report["foot"]) for name, report in told]
        session.add_all(feet)
        session.flush()
        for (name, report), foot in zip(told, feet, strict=True):
            rest = {k: v for k, v in report.items() if k != "foot"}
            session.add(Report(**whose[name], foot_id=foot.id, **rest))


def calibrate(database: Database, group_id: str) -> Calibration:
    with database.read() as session:
        found = judging.calibrated(session, operator(group_id))
    with database.write.begin() as session:
        return keep_calibration(session, operator(group_id), found)


@pytest.fixture
def never(migrated_file: Path, tmp_path: Path) -> Iterator[Callable[..., Calibration]]:
    """Yield what calibrates reports in a database that never saw anything else."""
    file = tmp_path / "never.db"
    copyfile(migrated_file, file)
    database = Database(f"sqlite:///{file}")

    def seen(told: list[tuple[str, dict[str, Any]]]) -> Calibration:
        with database.write.begin() as session:
            group = Group(name="Invented")
            session.add(group)
        fill(database, group.id, told)
        return calibrate(database, group.id)

    yield seen
    database.close()


def report(world: Any, **changed: Any) -> dict[str, Any]:
    return world.report(**{"foot": FOOT, "notes": CANARY, **changed})


def leave(who: Any, path: str) -> Any:
    """Ask for an erasure, with the password that `somebody` has."""
    return who.ask("DELETE", path, json={"current_password": PASSWORD})


def somebody(world: Any) -> Any:
    """Return a member who left a trace in every table that a person can leave one in."""
    code = world.mine.steward.make("/invitations")["code"]
    body = {"name": CANARY, "consent_version": 3}
    joined = world.client.post(f"/v1/invitations/{code}/acceptance", json=body).json
    who = type(world.mine.knitter)(
        world.client, joined["id"], joined["member_id"], CANARY, joined["token"]
    )
    foot = who.post("/feet", {**FOOT, "label": CANARY}, Idempotency_Key="foot").json
    who.post("/reports", report(world, foot=..., foot_id=foot["id"]), Idempotency_Key="one")
    asked = who.post("/suggestions", world.question(foot=FOOT), Idempotency_Key="two").json
    made = who.make("/reports", report(world, fit_score=2, suggestion_id=asked["id"]))
    account = {"username": CANARY.lower(), "password": PASSWORD}
    who.make("/v1/accounts", account)
    assert world.app.test_client().post("/v1/sessions", json=account).status_code == 201
    who.make("/v1/tokens", {"label": CANARY, "current_password": PASSWORD})
    path = f"/members/{who.member_id}"
    world.mine.steward.make(f"{path}/password-reset")
    changed = world.mine.steward.patch(path, {"role": "steward"}, If_Match="*")
    assert changed.status_code == 200
    held = made["id"]
    step = {"status": "held", "from": "counted", "text": CANARY}
    world.mine.steward.make(f"/reports/{held}/reviews", step)
    accepted = {"status": "accepted", "from": "held"}
    world.mine.steward.post(f"/reports/{held}/reviews", accepted, Idempotency_Key="three")
    who.make("/invitations")
    calibration = world.mine.steward.post("/calibrations", {}, Idempotency_Key="four").json["id"]
    who.post(f"/calibrations/{calibration}/activation", {"reason": "invented"})
    return who


def traces(world: Any, who: Any) -> set[str]:
    """Return every id, name and measurement that is somebody's own."""
    with world.database.read() as session:
        person = session.get_one(Member, who.member_id).person_id
    found = {person, who.member_id, CANARY, CANARY.lower(), who.token}
    taken = who.get("/v1/me").json
    kinds = ("feet", "reports", "suggestions", "tokens", "accounts")
    found |= {one["id"] for kind in kinds for one in taken[kind]}
    return found | {str(value) for value in FOOT.values()}


def where_found(world: Any, sought: set[str]) -> set[str]:
    """Return the columns of all tables in which something is found, each cell read as text."""
    found = set()
    with world.database.read() as session:
        for table in Base.metadata.sorted_tables:
            for column in table.columns:
                text = cast(column, String)
                hit = or_(*(text.contains(one, autoescape=True) for one in sorted(sought)))
                if session.execute(select(table.c.id).where(hit).limit(1)).first():
                    found.add(str(column))
    return found


def test_who_is_erased_of_200_leaves_nothing_and_the_refit_never_saw_them(
    world: Any, never: Any
) -> None:
    told = others()
    fill(world.database, world.mine.steward.group_id, told)
    who = somebody(world)
    sought = traces(world, who)
    before = where_found(world, sought)
    assert len({one.split(".")[0] for one in before}) >= 13, before
    assert {"calibrations.people", "idempotency_keys.body", "suggestions.question"} <= before
    done = leave(who, "/v1/me")
    assert done.status_code == 200, done.text
    assert (done.json["feet"], done.json["reports"], done.json["suggestions"]) == (2, 2, 1)
    assert where_found(world, sought) == set()
    anew = the_calibration(world, done.json["calibrated"][who.group_id])
    same = never(told)
    assert (anew.reports, anew.reporters) == (len(told), OTHERS)
    assert anew.fingerprint == same.fingerprint
    assert anew.artefact == same.artefact, "floats are equal bit for bit"
    assert figures(anew) == figures(same)
    assert who.get("/v1/me").status_code == 401


def the_calibration(world: Any, calibration_id: str) -> Calibration:
    with world.database.read() as session:
        found: Calibration = session.get_one(Calibration, calibration_id)
    return found


def figures(row: Calibration) -> str:
    """Return what a card shows, without the moment and ids of members."""
    text = json.dumps({k: v for k, v in row.diagnostics.items() if k != "as_of"}, sort_keys=True)
    text = re.sub(r'"people": {("[0-9a-f]{32}": "[0-9a-f]{16}"(, )?)*}', "", text)
    return re.sub(r'"member_id": "[0-9a-f]{32}"', "", text)


def test_figures_without_somebody_are_not_shown_beside_those_with_them(world: Any) -> None:
    group_id = world.mine.steward.group_id
    fill(world.database, group_id, others(12))
    who = somebody(world)
    steward = world.mine.steward
    assert steward.items("/calibrations")[-1]["reporters"] == 13
    done = leave(who, "/v1/me").json
    shown = steward.get(f"/calibrations/{done['calibrated'][group_id]}").json
    assert (shown["active"], shown["coefficients"]) == (True, None)
    assert "fewer than 10 reported since" in shown["withheld"]
    later = [(f"Later {name}", one) for name, one in others(60, 1)[51:]]
    fill(world.database, group_id, later[:8])
    assert steward.make("/calibrations")["coefficients"] is None, "8 and the erased one are 9"
    fill(world.database, group_id, later[8:])
    assert steward.make("/calibrations")["coefficients"] is not None


def test_one_place_is_erased_and_the_rest_of_the_account_stays(world: Any) -> None:
    who = somebody(world)
    body = {"name": "Invented second group", "steward": "Wren", "consent_version": 3}
    second = who.make("/v1/groups", body)
    path = f"/v1/groups/{second['id']}"
    who.make(f"{path}/reports", world.report())
    done = leave(who, f"/v1/me/places/{who.member_id}")
    assert (done.status_code, done.json["reports"]) == (200, 2)
    assert [one["name"] for one in who.get("/v1/groups").json["items"]] == [body["name"]]
    assert len(who.items(f"{path}/reports")) == 1
    assert who.get("").status_code == 404
    labels = [one["label"] for one in who.items("/v1/tokens")]
    assert labels == ["in Invented heron group", CANARY], "the label that one gave oneself stays"
    assert where_found(world, {who.member_id, "251.77"}) == set()


def test_who_left_is_erased_later(world: Any) -> None:
    who = world.mine.knitter
    made = who.make("/reports", world.report())
    assert who.delete("/members/me").status_code == 204
    assert where_found(world, {made["id"]}) != set()
    assert leave(who, f"/v1/me/places/{who.member_id}").status_code == 200
    assert where_found(world, {made["id"], who.member_id}) == set()
    assert leave(who, "/v1/me").status_code == 200


def test_a_place_of_somebody_else_is_not_found(world: Any, is_problem: Any) -> None:
    other = world.mine.steward.member_id
    before = world.mine.steward.get("/members").data
    for place in (other, world.theirs.knitter.member_id, "0" * 32):
        is_problem(world.mine.knitter.delete(f"/v1/me/places/{place}"), 404)
    assert world.mine.steward.get("/members").data == before


def test_the_last_steward_is_erased_only_where_nobody_else_is_left(
    world: Any, is_problem: Any
) -> None:
    steward, knitter = world.mine.steward, world.mine.knitter
    for path in ("/v1/me", f"/v1/me/places/{steward.member_id}"):
        assert "steward first" in is_problem(steward.delete(path), 409)["detail"]
    assert knitter.delete("/v1/me").status_code == 200
    assert steward.delete("/v1/me").status_code == 200
    assert where_found(world, {steward.member_id, knitter.member_id}) == set()


def test_a_steward_erases_reporters_who_have_not_joined_and_nobody_else(
    world: Any, is_problem: Any
) -> None:
    steward = world.mine.steward
    key = {"Idempotency_Key": "for the reporter"}
    made = steward.post("/reports", world.report(reporter="Alder", foot=FOOT), **key).json
    [alder] = [one["id"] for one in steward.items("/members") if one["name"] == "Alder"]
    is_problem(steward.delete(f"/reporters/{world.mine.knitter.member_id}"), 409)
    is_problem(world.mine.knitter.delete(f"/reporters/{alder}"), 403)
    is_problem(world.theirs.steward.delete(f"/reporters/{alder}"), 404)
    assert steward.delete(f"/reporters/{alder}").json["reports"] == 1
    assert where_found(world, {alder, made["id"], made["foot_id"], "Alder", "251.77"}) == set()
    is_problem(steward.delete(f"/reporters/{alder}"), 404)


def test_what_one_did_for_others_stays_without_a_name(world: Any) -> None:
    who = somebody(world)
    other = world.mine.knitter.make("/reports", world.report(fit_score=1))["id"]
    who.make(f"/reports/{other}/reviews", {"status": "held", "from": "counted"})
    assert leave(who, "/v1/me").status_code == 200
    [step] = world.mine.steward.items(f"/reports/{other}/reviews")
    assert (step["status"], step["reviewer"]) == ("held", None)
