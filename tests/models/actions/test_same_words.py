"""A wrong row of a file and the same report over HTTP are answered in the same words.

The rows are invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient

from models.actions import tokens
from models.domain.foot import MEASUREMENT_NAMES
from models.tables.people import Member
from service.app import create_app
from service.config import Settings

WRONG: list[dict[str, Any]] = [
    {"foot_length_mm": -1},
    {"foot_length_mm": 98, "foot_circumference_mm": 228},
    {"foot_length_mm": 25},
    {"foot_length_mm": None},
    {"foot_length_mm": "abc"},
    {"heel_diagonal_mm": 12.4},
    {"yarn_weight": 8},
    {"stitches_per_10cm": 300},
    {"rounds_per_10cm": 0},
    {"heel_stitches": 7},
    {"heel_stitches": 64.5},
    {"heel_stitches": 63, "plain_rounds": 0},
    {"heel_stitches": 8},
    {"slow_decrease_rounds": 201, "fit_score": 3},
    {"fit_score": None},
    {"decreases_per_round": 17},
    {"decreases_per_round": 8},
    {"times_washed": -1},
    {"knitted_on": "02/03/2024"},
    {"knitted_on": "2999-01-01"},
    {"size": "S"},
    {"reporter": "x" * 81},
    {"reporter": "a\tb"},
    {"design": "a\x07b", "size": "x" * 41},
    {"notes": "x" * 2001},
]


@pytest.fixture
def client(pool, database_url: str) -> Iterator[FlaskClient]:
    with pool.database.write.begin() as session:
        member = session.get_one(Member, pool.steward.member_id)
        token = tokens.issue(session, str(member.person_id), "invented")
    app = create_app(Settings(database_url))
    client = app.test_client()
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {token}"
    yield client
    app.extensions["heeldepth"].close()


def body_of(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row as `POST .../reports` takes it."""
    given = {name: value for name, value in row.items() if value is not None}
    foot = {name: given.pop(name) for name in MEASUREMENT_NAMES if name in given}
    return {**given, "foot": foot}


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize("wrong", WRONG, ids="-".join)
def test_an_import_says_what_posting_the_report_says(pool, client, wrong: dict[str, Any]) -> None:
    row = {**pool.sheets.sound, **wrong}
    answer = client.post(f"/v1/groups/{pool.group_id}/reports", json=body_of(row))
    assert answer.status_code == 422
    posted = {error["detail"].removeprefix("foot.") for error in answer.get_json()["errors"]}
    imported = {str(fault.fault) for fault in pool.refusal(pool.sheets.of(row)).faults}
    assert imported == posted


@pytest.mark.only_on("sqlite")
def test_a_sound_row_is_taken_both_ways(pool, client) -> None:
    body = body_of(dict(pool.sheets.sound))
    assert client.post(f"/v1/groups/{pool.group_id}/reports", json=body).status_code == 201
    outcome = pool.take(pool.sheets.of({}))
    assert (outcome.used, outcome.known) == (0, 1)  # what was posted is what the row says
