"""A disk without room: writes are refused as 507, reads answered, and room is used at once."""

from __future__ import annotations

import errno
import sqlite3
from typing import Any

import psycopg.errors
import pytest
from sqlalchemy import event
from sqlalchemy.exc import OperationalError

from models.tables import alone
from models.tables.refusals import is_full
from service import uploads


@pytest.fixture
def room(world: Any) -> list[str]:
    """Return how many pages SQLite may use; what is put there counts from the next request on."""
    pages = ["1073741823"]
    event.listen(
        world.database.engine,
        "checkout",
        lambda connection, *_: connection.execute(f"PRAGMA max_page_count = {pages[-1]}"),
    )
    return pages


@pytest.mark.only_on("sqlite")
def test_what_finds_no_room_is_507_and_leaves_nothing(
    world: Any, is_problem: Any, room: list[str]
) -> None:
    steward = world.mine.steward
    room.append("1")  # SQLite makes it as many as there are
    kept = 0
    while (answer := steward.post("/reports", world.report(notes="x" * 2000))).status_code == 201:
        kept += 1
        assert kept < 1000
    assert "no room" in is_problem(answer, 507)["detail"]
    assert len(steward.get("/reports?limit=200").json["items"]) == kept
    assert len(steward.get("/feet?limit=200").json["items"]) == kept
    is_problem(steward.post("/reports", world.report(notes="x" * 2000)), 507)
    room.append("1073741823")
    assert steward.post("/reports", world.report(notes="x" * 2000)).status_code == 201


def test_postgresql_says_it_in_its_own_way() -> None:
    assert is_full(OperationalError("", {}, psycopg.errors.DiskFull()))
    assert not is_full(OperationalError("", {}, psycopg.errors.QueryCanceled()))


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT])
def test_a_file_that_finds_no_room_is_507(
    lasting: Any, is_problem: Any, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    _refuse(monkeypatch, OSError(number, "invented"))
    is_problem(_uploaded(lasting), 507)


def test_a_file_that_fails_otherwise_is_500(
    lasting: Any, is_problem: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    _refuse(monkeypatch, OSError(errno.EACCES, "invented"))
    is_problem(_uploaded(lasting), 500)


def _refuse(monkeypatch: pytest.MonkeyPatch, error: OSError) -> None:
    def refuse(_request: Any) -> bytes:
        raise error

    monkeypatch.setattr(uploads, "whole_body", refuse)


def _uploaded(world: Any) -> Any:
    steward = world.mine.steward
    path = f"/designs/{world.things(steward, ['design_id'])['design_id']}/size-table"
    options = {"data": world.size_table(), "content_type": "text/csv"}
    return steward.ask("POST", path, **options)


@pytest.mark.only_on("sqlite")
def test_a_calibration_that_finds_no_room_for_its_turn_is_507(
    world: Any, is_problem: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Full(sqlite3.Connection):
        def execute(self, statement: str, *given: Any) -> sqlite3.Cursor:
            if statement.startswith("BEGIN"):
                refused = sqlite3.OperationalError("invented")
                refused.sqlite_errorcode = sqlite3.SQLITE_FULL
                raise refused
            return super().execute(statement, *given)

    def opened(file: Any) -> Full:
        return sqlite3.connect(file, isolation_level=None, factory=Full)

    monkeypatch.setattr(alone, "_opened", opened)
    is_problem(world.mine.steward.post("/calibrations"), 507)


def test_ready_says_that_there_is_no_room(
    world: Any, is_problem: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert world.client.get("/readyz").json["database"] == "answers"
    _refuse(monkeypatch, OSError(errno.ENOSPC, "invented"))
    is_problem(_uploaded(world), 507)
    told = world.client.get("/readyz")
    assert told.status_code == 200, "what is there is answered"
    assert "no room left to write" in told.json["database"]
