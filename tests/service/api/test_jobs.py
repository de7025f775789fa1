"""Jobs over HTTP: asked for, watched, called off, and their files. All rows are invented."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import func, select, update

from models.actions import csv_chunks, export_reports, import_reports
from models.actions.csv_chunks import Chunk
from models.domain.jobs import KEPT, MOST_UNFINISHED
from models.tables.base import now
from models.tables.jobs import Job, JobPiece
from models.tables.people import Member
from models.tables.socks import Foot, Report

ASYNC = {"Prefer": "respond-async, wait=10"}
"""As RFC 7240 writes it, 4.1 and 4.3."""


def ask_async(world: Any, path: str = "/calibrations", who: Any = None, **headers: str) -> Any:
    return (who or world.mine.steward).post(path, **ASYNC, **headers)


def file_of(world: Any, rows: int, **headers: str) -> Any:
    """Return the answer to a file of so many reports that differ."""
    head, row = world.report_table().splitlines()
    lines = [f"{head},notes", *(f"{row},invented {n}" for n in range(rows))]
    options = {"data": "\n".join(lines), "content_type": "text/csv", "headers": headers}
    return world.mine.steward.ask("POST", "/imports", **options)


def read(world: Any, answer: Any, who: Any = None) -> dict[str, Any]:
    found: dict[str, Any] = (who or world.mine.steward).get(answer.headers["Location"]).json
    return found


def counted(world: Any, table: Any) -> int:
    with world.database.read() as session:
        return session.scalar(select(func.count()).select_from(table)) or 0


def test_a_calibration_is_a_job_for_whoever_prefers_that(world) -> None:
    world.mine.knitter.make("/reports", world.report())
    assert world.mine.steward.post("/calibrations").status_code == 201
    answer = ask_async(world)
    assert answer.status_code == 202
    assert answer.headers["Preference-Applied"] == "respond-async"
    assert (answer.json["state"], answer.json["result"]) == ("queued", None)
    assert len(world.mine.steward.items("/calibrations")) == 1
    world.work()
    done = read(world, answer)
    assert (done["state"], done["done"], done["total"], done["problem"]) == ("done", 3, 3, None)
    made = world.mine.steward.get(f"/calibrations/{done['result']['calibration_id']}").json
    assert (made["number"], made["reports"]) == (2, 1)
    assert done["created_at"] <= done["started_at"] <= done["ended_at"]


@pytest.mark.parametrize("prefer", ["wait=5", "respond-sync", "return=minimal", ""])
def test_other_preferences_are_answered_at_once(world, prefer: str) -> None:
    assert world.mine.steward.post("/calibrations", Prefer=prefer).status_code == 201


def test_a_short_file_becomes_a_job_where_that_is_preferred(world) -> None:
    answer = file_of(world, 3, **ASYNC)
    assert answer.status_code == 202
    assert counted(world, JobPiece) == 1
    world.work()
    assert read(world, answer)["result"]["taken"] == 3
    assert counted(world, JobPiece) == 0


def test_the_same_key_twice_is_one_job_and_one_import(world) -> None:
    table = world.report_table()
    options = {"data": table, "content_type": "text/csv"}
    headers = {**ASYNC, "Idempotency-Key": "one"}
    first, again = (
        world.mine.steward.ask("POST", "/imports", **options, headers=headers) for _ in range(2)
    )
    assert first.data == again.data
    assert first.headers["Location"] == again.headers["Location"]
    world.work()
    assert len(world.mine.steward.items("/jobs")) == 1
    assert len(world.mine.steward.items("/reports")) == 1


def test_a_refused_file_is_a_failed_job_that_names_row_and_column(world) -> None:
    head, row = world.report_table().splitlines()
    wrong = "\n".join([head, row, row[: row.rindex(",")] + ",9"])
    options = {"data": wrong, "content_type": "text/csv", "headers": ASYNC}
    answer = world.mine.steward.ask("POST", "/imports", **options)
    dry = world.mine.steward.ask("POST", "/imports?dry_run=true", **options)
    world.work()
    failed = read(world, answer)
    assert (failed["state"], failed["result"]) == ("failed", None)
    assert (failed["problem"]["status"], failed["problem"]["type"]) == (
        422,
        "urn:heeldepth:problem:invalid",
    )
    assert failed["problem"]["errors"][0]["pointer"] == "/rows/3/fit_score"
    told = read(world, dry)["result"]
    assert (told["dry_run"], told["taken"], told["left_out"]) == (True, 0, 1)
    assert told["errors"][0]["value"] == 9
    assert world.mine.steward.items("/reports") == []
    assert counted(world, JobPiece) == 0


def test_an_export_is_kept_with_its_job_and_equals_the_one_read_at_once(world) -> None:
    file_of(world, 5)
    for form in ("csv", "xlsx", "jsonl"):
        answer = world.mine.steward.post("/exports", {"form": form})
        path = answer.headers["Location"]
        assert world.mine.steward.get(f"{path}/file").status_code == 404
        world.work()
        assert read(world, answer)["result"]["reports"] == 5
        kept = world.mine.steward.get(f"{path}/file")
        assert kept.data == world.mine.steward.get(f"/exports?form={form}").data
        assert read(world, answer)["result"]["bytes"] == len(kept.data)


def test_a_waiting_job_is_cancelled_at_once_and_does_nothing(world, is_problem) -> None:
    answer = file_of(world, 3, **ASYNC)
    path = answer.headers["Location"]
    cancelled = world.mine.steward.post(f"{path}/cancellation").json
    assert (cancelled["state"], cancelled["ended_at"] is None) == ("cancelled", False)
    world.work()
    assert read(world, answer)["state"] == "cancelled"
    assert world.mine.steward.items("/reports") == []
    assert counted(world, JobPiece) == 0
    assert world.mine.steward.post(f"{path}/cancellation").json["state"] == "cancelled"


@pytest.mark.parametrize("rows_before", [1, 2])
def test_an_import_that_is_called_off_half_way_leaves_nothing(
    world, monkeypatch, rows_before: int
) -> None:
    answer = file_of(world, 3, **ASYNC)
    monkeypatch.setattr(csv_chunks.read_chunks, "__defaults__", (1,))  # rows in a piece
    checked = import_reports.checked

    def called_off_in_between(path: Path) -> Iterator[Chunk]:
        for number, chunk in enumerate(checked(path)):
            if number == rows_before:
                path_of_job = answer.headers["Location"]
                said = world.mine.steward.post(f"{path_of_job}/cancellation").json
                assert (said["state"], said["cancel_asked_at"] is None) == ("running", False)
            yield chunk

    monkeypatch.setattr(import_reports, "checked", called_off_in_between)
    world.work()
    ended = read(world, answer)
    assert (ended["state"], ended["result"]) == ("cancelled", None)
    assert [counted(world, table) for table in (Report, Foot, JobPiece)] == [0, 0, 0]
    assert len(world.mine.steward.items("/members")) == 2


def test_what_has_ended_cannot_be_cancelled(world, is_problem) -> None:
    answer = ask_async(world)
    world.work()
    detail = is_problem(world.mine.steward.post(f"{answer.headers['Location']}/cancellation"), 409)
    assert "this job is done" in detail["detail"]


def test_a_job_is_nobody_else_s(world, is_problem) -> None:
    path = file_of(world, 2, **ASYNC).headers["Location"]
    other = world.member(world.mine.steward.group_id, "Invented second steward", "steward")
    for who in (other, world.mine.knitter, world.theirs.steward):
        is_problem(who.get(path), 404)
        is_problem(who.get(f"{path}/file"), 404)
        is_problem(who.post(f"{path}/cancellation"), 404)
        if who is not world.theirs.steward:
            assert who.items("/jobs") == []


def test_a_narrow_token_sees_only_jobs_that_it_could_have_asked_for(world, is_problem) -> None:
    path = file_of(world, 2, **ASYNC).headers["Location"]
    export = world.mine.steward.post("/exports").json["id"]
    body = {"label": "narrow", "scopes": ["read"]}
    made = world.mine.steward.make("/v1/tokens", body)["token"]
    narrow = type(world.mine.steward)(**{**vars(world.mine.steward), "token": made})
    assert [job["id"] for job in narrow.items("/jobs")] == [export]
    is_problem(narrow.get(path), 404)


def test_a_file_with_what_stewards_see_needs_the_scope_of_stewards(world, is_problem) -> None:
    file_of(world, 2)
    for who, status in ((world.mine.steward, 403), (world.mine.knitter, 200)):
        path = who.post("/exports").headers["Location"]
        world.work()
        made = who.make("/v1/tokens", {"label": "narrow", "scopes": ["read"]})["token"]
        narrow = replace(who, token=made)
        assert who.get(f"{path}/file").status_code == 200
        assert narrow.get(f"{path}/file").status_code == status


def test_an_export_that_runs_while_somebody_is_erased_is_made_without_them(
    world, monkeypatch
) -> None:
    steward = world.mine.steward
    for name in ("Alder", "Birch"):
        steward.make("/reports", world.report(reporter=name))
    [birch] = [one["id"] for one in steward.items("/members") if one["name"] == "Birch"]
    exported, read_first = export_reports.exported, []

    def erased_in_between(*asked: Any) -> list[bytes]:
        found = list(exported(*asked))
        if not read_first:
            read_first.append(b"".join(found))
            assert steward.delete(f"/reporters/{birch}").status_code == 200
        return found

    answer = steward.post("/exports")
    monkeypatch.setattr(export_reports, "exported", erased_in_between)
    world.work()
    assert b"Birch" in read_first[0]
    assert read(world, answer)["result"]["reports"] == 1
    assert b"Birch" not in steward.get(f"{answer.headers['Location']}/file").data


def test_who_has_left_or_lost_the_role_meanwhile_gets_nothing_done(world) -> None:
    for changed in ({"left_at": now()}, {"role": "knitter"}):
        who = world.member(world.mine.steward.group_id, f"Invented {list(changed)}", "steward")
        job = ask_async(world, who=who).json["id"]
        with world.database.write.begin() as session:
            session.execute(update(Member).where(Member.id == who.member_id).values(**changed))
        world.work()
        with world.database.read() as session:
            row = session.get_one(Job, job)
            assert (row.state, row.problem["status"]) == ("failed", 403)
    assert world.mine.steward.items("/calibrations") == []


def test_nobody_has_more_than_twenty_jobs_waiting(world, is_problem) -> None:
    for _ in range(MOST_UNFINISHED):
        assert world.mine.knitter.post("/exports").status_code == 202
    assert "cancel some" in is_problem(world.mine.knitter.post("/exports"), 409)["detail"]
    assert world.mine.steward.post("/exports").status_code == 202
    world.work()
    assert world.mine.knitter.post("/exports").status_code == 202


def test_jobs_and_their_files_are_forgotten_after_a_day(world, is_problem) -> None:
    old, new = (world.mine.steward.post("/exports") for _ in range(2))
    world.work()
    with world.database.write.begin() as session:
        before = now() - KEPT - timedelta(seconds=1)
        session.execute(update(Job).where(Job.id == old.json["id"]).values(ended_at=before))
    world.app.extensions["heeldepth_jobs"].look_after()
    is_problem(world.mine.steward.get(old.headers["Location"]), 404)
    assert read(world, new)["state"] == "done"
    assert counted(world, JobPiece) == 1
