"""Everything about oneself, taken along. All names are invented."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from typing import Any

from models.actions.about_me import SECRETS
from models.actions.fates import FATES
from models.actions.tokens import digest
from models.tables.base import Base
from models.tables.people import Token


def busy(world: Any) -> Any:
    """Return a knitter who has a row of most kinds."""
    who = world.mine.knitter
    foot = who.make("/feet", {**world.foot(), "label": "=left"})
    asked = who.make("/suggestions", world.question())
    report = world.report(foot=..., foot_id=foot["id"], design="Invented toe-up", size="M")
    who.post("/reports", {**report, "suggestion_id": asked["id"]}, Idempotency_Key="one")
    who.make("/v1/accounts", {"username": "wren.one", "password": "invented password"})
    return who


def test_everything_about_oneself_is_in_it_and_nothing_of_others(world: Any) -> None:
    who = busy(world)
    other = world.mine.steward.make("/reports", world.report(notes="of somebody else"))
    world.mine.steward.make("/calibrations")
    answer = who.get("/v1/me")
    assert answer.status_code == 200
    taken = answer.json
    kinds = ("members", "feet", "reports", "suggestions", "tokens", "accounts", "people")
    assert {kind: len(taken[kind]) for kind in kinds} == dict.fromkeys(kinds, 1)
    [report] = taken["reports"]
    assert (report["group"], report["design"]) == ("Invented heron group", "Invented toe-up")
    assert report["id"] == who.items("/reports")[0]["id"]
    assert taken["suggestions"][0]["question"]["foot"]["foot_length_mm"] == 250
    assert taken["idempotency_keys"][0]["key"] == "one"
    assert [one["number"] for one in taken["learned_from"]] == [1]
    for secret in (other["id"], "of somebody else", world.mine.steward.member_id, "Ottoline"):
        assert secret not in answer.text
    for hidden in (digest(who.token), "argon2", *SECRETS):
        assert hidden not in answer.text


def test_jobs_are_in_it_and_their_files_are_not(world: Any) -> None:
    who = world.mine.steward
    head, row = world.report_table().splitlines()
    body = {
        "data": f"{head}\nInvented reporter,{row.partition(',')[2]}",
        "content_type": "text/csv",
    }
    assert (
        who.ask("POST", "/imports", **body, headers={"Prefer": "respond-async"}).status_code == 202
    )
    taken = who.get("/v1/me")
    assert [job["kind"] for job in taken.json["jobs"]] == ["import"]
    assert "job_pieces" not in taken.json
    assert "Invented reporter" not in taken.text
    with zipfile.ZipFile(io.BytesIO(who.get("/v1/me?form=csv").data)) as archive:
        assert "jobs.csv" in archive.namelist()


def test_every_column_is_in_it_except_secrets(world: Any) -> None:
    taken = busy(world).get("/v1/me").json
    for kind, rows in taken.items():
        if rows and kind in Base.metadata.tables:
            columns = {column.name for column in Base.metadata.tables[kind].columns}
            assert columns - SECRETS <= set(rows[0]), kind
    assert set(taken) <= {*Base.metadata.tables, "exported_at", "learned_from"}
    assert {column.split(".")[0] for column in FATES} >= {*taken} - {
        "people",
        "exported_at",
        "learned_from",
    }


def test_the_archive_holds_the_same_rows_and_no_formulas(world: Any) -> None:
    who = busy(world)
    taken, answer = who.get("/v1/me").json, who.get("/v1/me?form=csv")
    assert answer.mimetype == "application/zip"
    archive = zipfile.ZipFile(io.BytesIO(answer.data))
    assert {name.removesuffix(".csv") for name in archive.namelist()} == set(taken) - {
        "exported_at"
    }
    for name in archive.namelist():
        rows = list(csv.DictReader(io.StringIO(archive.read(name).decode(), newline="")))
        assert [row.get("id") for row in rows] == [
            str(one["id"]) if "id" in one else None for one in taken[name.removesuffix(".csv")]
        ]
    [foot] = csv.DictReader(io.StringIO(archive.read("feet.csv").decode()))
    assert (foot["label"], foot["foot_length_mm"]) == ("'=left", "250.0")
    [asked] = csv.DictReader(io.StringIO(archive.read("suggestions.csv").decode()))
    assert json.loads(asked["question"]) == taken["suggestions"][0]["question"]


def test_what_one_did_is_in_it_without_saying_to_whom(world: Any) -> None:
    steward, knitter = world.mine.steward, world.mine.knitter
    world.things(steward, ["member_id"])
    made = knitter.make("/reports", world.report(notes="of somebody else"))
    step = {"status": "held", "from": "counted", "text": "looked odd"}
    steward.make(f"/reports/{made['id']}/reviews", step)
    [review] = steward.get("/v1/me").json["reviews"]
    assert (review["text"], review["member_id"]) == ("looked odd", steward.member_id)
    [seen] = knitter.get("/v1/me").json["reviews"]
    assert (seen["text"], seen["member_id"]) == ("looked odd", None)
    assert "of somebody else" not in steward.get("/v1/me").text


def test_the_forms_are_two(world: Any, faults: Any) -> None:
    found = faults(world.mine.knitter.get("/v1/me?form=xlsx"))
    assert found == {"/form": "one of json, csv"}


def test_a_report_keeps_the_consent_that_held_when_it_came(world: Any) -> None:
    steward = world.mine.steward
    steward.make("/reports", world.report())
    world.member(steward.group_id, "Invented", "knitter").make("/reports", world.report())
    [own] = steward.get("/v1/me").json["reports"]
    assert own["consent_version"] == 3, "founding is agreeing"
    steward.make("/reports", world.report(reporter="Alder"))
    with world.database.read() as session:
        table = Base.metadata.tables["reports"]
        versions = [row.consent_version for row in session.execute(table.select())]
    assert sorted(versions, key=str) == [3, None, None]


def test_founding_needs_agreeing(client: Any, faults: Any) -> None:
    body = {"name": "Invented", "steward": "Isolde"}
    assert set(faults(client.post("/v1/groups", json=body))) == {"/consent_version"}
    wrong = faults(client.post("/v1/groups", json={**body, "consent_version": 1}))
    assert wrong == {
        "/consent_version": "it must be 3: read GET /v1/consent and agree to that text"
    }


def test_a_token_of_an_erased_person_is_unknown(world: Any, is_problem: Any) -> None:
    who = busy(world)
    cookie = world.app.test_client()
    account = {"username": "wren.one", "password": "invented password"}
    assert cookie.post("/v1/sessions", json=account).status_code == 201
    assert cookie.get("/v1/groups").status_code == 200
    known = {"current_password": account["password"]}
    assert who.ask("DELETE", "/v1/me", json=known).status_code == 200
    is_problem(who.get("/v1/groups"), 401)
    is_problem(cookie.get("/v1/groups"), 401)
    is_problem(cookie.post("/v1/sessions", json=account), 401)
    with world.database.read() as session:
        assert session.query(Token).count() == 3
