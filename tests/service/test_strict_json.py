"""Bodies as the JSON standard has them, and nothing else."""

from __future__ import annotations

import json
import socket
from typing import Any

import pytest
from sqlalchemy import select

from models.tables.socks import Foot
from seed_demo.server import HOST, running
from service.strict_json import MOST_BYTES

NOT_JSON = {
    "nothing": b"",
    "cut off": b'{"heel_stitches": 64',
    "NaN": b'{"heel_stitches": NaN}',
    "Infinity": b'{"heel_stitches": Infinity}',
    "minus Infinity": b'{"heel_stitches": -Infinity}',
    "beyond a double": b'{"heel_stitches": 1e400}',
    "an integer beyond a double": b'{"heel_stitches": ' + b"9" * 401 + b"}",
    "deeply nested lists": b"[" * 100_000 + b"]" * 100_000,
    "deeply nested objects": b'{"a":' * 40_000 + b"1" + b"}" * 40_000,
    "a lone surrogate": b'{"close": "\\ud800"}',
    "bytes that are not UTF-8": b'{"close": "\xff"}',
    "UTF-16": '{"close": "graft"}'.encode("utf-16"),
    "a comment": b'{"heel_stitches": 64 // all}',
    "a comma too many": b'{"heel_stitches": 64,}',
    "single quotes": b"{'heel_stitches': 64}",
    "two values": b"{} {}",
    "a form": b"heel_stitches=64",
}


@pytest.mark.parametrize("body", NOT_JSON.values(), ids=NOT_JSON)
def test_what_is_not_json_is_400_and_says_where(lasting: Any, is_problem: Any, body: bytes) -> None:
    answer = lasting.client.post("/v1/schedules", data=body, content_type="application/json")
    assert "not JSON" in is_problem(answer, 400)["detail"]
    stored = lasting.mine.steward.ask(
        "POST", "/reports", data=body, content_type="application/json"
    )
    is_problem(stored, 400)


def test_a_body_that_is_needed_must_be_there(world: Any, is_problem: Any) -> None:
    report = f"/reports/{world.mine.steward.make('/reports', world.report())['id']}"
    for method, path in (("POST", "/feet"), ("PATCH", report), ("POST", "/v1/schedules")):
        answer = world.mine.steward.ask(method, path, headers={"If-Match": "*"})
        assert "application/json" in is_problem(answer, 400)["detail"]
    assert world.mine.steward.get(report).json["version"] == 1


@pytest.mark.parametrize("body", ["null", "[]", "5", '"text"', "true"])
def test_json_that_is_no_object_is_422_with_the_fields_that_are_wanted(
    lasting: Any, faults: Any, body: str
) -> None:
    answer = lasting.client.post("/v1/schedules", data=body, content_type="application/json")
    (wanted,) = faults(answer).values()
    assert "an object with the fields heel_stitches" in wanted


@pytest.mark.parametrize(
    "media_type", ["text/plain", "application/x-www-form-urlencoded", "application/jsonp"]
)
def test_another_media_type_is_415(lasting: Any, is_problem: Any, media_type: str) -> None:
    body = json.dumps(lasting.schedule())
    answer = lasting.client.post("/v1/schedules", data=body, content_type=media_type)
    assert "application/json" in is_problem(answer, 415)["detail"]


def test_a_media_type_may_name_its_charset(lasting: Any) -> None:
    kind = "application/json; charset=utf-8"
    body = json.dumps(lasting.schedule())
    assert lasting.client.post("/v1/schedules", data=body, content_type=kind).status_code == 200


def test_a_body_beyond_the_limit_is_413_and_stores_nothing(lasting: Any, is_problem: Any) -> None:
    most = MOST_BYTES
    foot = json.dumps(lasting.foot())
    kind = "application/json"
    for extra, status in ((0, 422), (1, 413)):
        body = f'{foot[:-1]}, "label": "{"x" * (most + extra - len(foot) - 13)}"}}'
        assert len(body) == most + extra
        is_problem(lasting.mine.steward.ask("POST", "/feet", data=body, content_type=kind), status)


@pytest.mark.parametrize("terminated", [False, True])
def test_a_body_shorter_than_its_content_length_is_400(
    lasting: Any,
    is_problem: Any,
    terminated: bool,  # noqa: FBT001
) -> None:
    """A server that hands a cut-off body on must not get it taken, however it ends its stream."""
    body = json.dumps(lasting.foot())
    before = lasting.mine.steward.get("/feet").data
    for longer in (1, 1000):
        answer = lasting.mine.steward.ask(
            "POST",
            "/feet",
            data=body,
            content_type="application/json",
            environ_overrides={
                "CONTENT_LENGTH": str(len(body) + longer),
                "wsgi.input_terminated": terminated,
            },
        )
        is_problem(answer, 400)
    assert lasting.mine.steward.get("/feet").data == before


def test_an_upload_cut_off_on_the_wire_is_not_acknowledged_and_stores_nothing(world: Any) -> None:
    body = json.dumps(world.foot()).encode()
    path = f"/v1/groups/{world.mine.steward.group_id}/feet"
    head = (
        f"POST {path} HTTP/1.1\r\nHost: {HOST}\r\nContent-Type: application/json\r\n"
        f"Authorization: Bearer {world.mine.steward.token}\r\n"
        f"Content-Length: {len(body) + 9}\r\n\r\n"
    ).encode()
    with running(world.app.config["HEELDEPTH"]) as port:
        with socket.create_connection((HOST, port), timeout=10) as wire:
            wire.sendall(head + body)
            wire.shutdown(socket.SHUT_WR)
            said = b"".join(iter(lambda: wire.recv(4096), b""))
        with socket.create_connection((HOST, port), timeout=10) as wire:
            wire.sendall(b"GET /healthz HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
            assert wire.recv(4096).startswith(b"HTTP/1.1 200 ")
    assert b" 201 " not in said
    assert b" 200 " not in said
    with world.database.read() as session:
        assert session.execute(select(Foot.id)).all() == []


def test_of_a_repeated_key_the_last_value_counts_and_is_the_one_named(
    lasting: Any, faults: Any
) -> None:
    body = json.dumps(lasting.schedule())[:-1] + ', "heel_stitches": 7}'
    answer = lasting.client.post("/v1/schedules", data=body, content_type="application/json")
    assert list(faults(answer)) == ["/heel_stitches"]
    assert answer.json["errors"][0]["value"] == 7


def test_moments_are_written_in_utc_as_rfc_3339(lasting: Any) -> None:
    group = lasting.mine.steward.get("").json
    assert group["created_at"].endswith("Z")
    assert group["created_at"][10] == "T"
