"""What operators see of requests: ids, logs and metrics, and never who asked for what.

The metrics are read by the Prometheus project's own parser.
"""

from __future__ import annotations

import io
import json
import logging
import re
import sys
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from flask.testing import FlaskClient
from prometheus_client.parser import text_string_to_metric_families

from service.app import create_app
from service.config import Settings
from service.logs import write_logs
from service.observing import REQUEST_ID


@pytest.fixture
def open_settings(database_url: str) -> Settings:
    return Settings(database_url, logs="json", metrics="open")


@pytest.fixture
def client(open_settings: Settings) -> Iterator[FlaskClient]:
    app = create_app(open_settings)
    yield app.test_client()
    app.extensions["heeldepth"].close()


@pytest.fixture
def written(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """Yield a function that returns what was logged as JSON, a line each."""
    err, root = io.StringIO(), logging.getLogger()
    monkeypatch.setattr(sys, "stderr", err)
    before = root.handlers[:]
    write_logs("json")
    (ours,) = set(root.handlers) - set(before)
    yield lambda: [json.loads(line) for line in err.getvalue().splitlines()]
    root.removeHandler(ours)


def figures(client: FlaskClient) -> dict[tuple[str, ...], float]:
    text = client.get("/metrics").text
    return {
        (sample.name, *(f"{k}={v}" for k, v in sorted(sample.labels.items()))): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }


def test_requests_are_counted_by_method_rule_and_status(client: FlaskClient) -> None:
    for _ in range(3):
        client.get("/v1/yarn-weights")
    client.post("/v1/schedules", json={})
    client.get("/nowhere/at/all")
    found = figures(client)
    assert (
        found["heeldepth_requests_total", "method=GET", "rule=/v1/yarn-weights", "status=200"] == 3
    )
    assert found["heeldepth_requests_total", "method=POST", "rule=/v1/schedules", "status=422"] == 1
    assert found["heeldepth_requests_total", "method=GET", "rule=none", "status=404"] == 1
    assert found["heeldepth_request_seconds_count", "method=GET", "rule=/v1/yarn-weights"] == 3
    assert 0 < found["heeldepth_request_seconds_sum", "method=GET", "rule=/v1/yarn-weights"] < 60
    assert found["process_resident_memory_bytes",] > 1e6


def test_jobs_are_counted_by_kind_and_state_for_all_processes(world) -> None:
    for _ in range(2):
        world.mine.steward.post("/exports", {"form": "csv"})
    settings = replace(world.app.config["HEELDEPTH"], metrics="open")
    other = create_app(settings)
    before = figures(other.test_client())
    assert before["heeldepth_jobs", "kind=export", "state=queued"] == 2
    assert 0 < before["heeldepth_jobs_waited_seconds",] < 60
    world.work()
    after = figures(other.test_client())
    assert after["heeldepth_jobs", "kind=export", "state=done"] == 2
    assert after["heeldepth_jobs_waited_seconds",] == 0
    other.extensions["heeldepth"].close()


def test_without_a_database_the_other_figures_are_shown(tmp_path, caplog) -> None:
    app = create_app(Settings(f"sqlite:///{tmp_path / 'nowhere' / 'x.db'}", metrics="open"))
    found = figures(app.test_client())
    assert found["process_resident_memory_bytes",] > 1e6
    assert "jobs were not counted" in caplog.text


def test_no_path_and_no_invented_method_becomes_a_label(client: FlaskClient) -> None:
    client.get("/v1/groups/canary7Zr/reports?canary7Zr")
    client.open("/v1/invitations/canary7Zr", method="CANARY")
    assert "canary" not in client.get("/metrics").text.lower()


def test_metrics_are_closed_unless_opened(database_url: str) -> None:
    app = create_app(Settings(database_url))
    assert app.test_client().get("/metrics").status_code == 404
    app.extensions["heeldepth"].close()


def test_every_request_is_one_line_with_its_id(client: FlaskClient, written) -> None:
    answer = client.get(f"/v1/groups/{'0' * 32}")
    (line,) = written()
    assert line.pop("ms") >= 0
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", line.pop("time"))
    assert line == {
        "level": "INFO",
        "logger": "heeldepth.requests",
        "message": "answered",
        "request_id": answer.headers[REQUEST_ID],
        "method": "GET",
        "rule": "/v1/groups/<hexid:group_id>",
        "status": 401,
    }


def test_a_job_is_logged_from_the_request_that_asks_for_it_to_its_end(world, written) -> None:
    asked = world.mine.steward.post("/exports", {"form": "csv"})
    world.work()
    lines = [line for line in written() if line["logger"] == "heeldepth.jobs"]
    assert [line["message"] for line in lines] == ["asked for", "begun", "left"]
    assert {(line["job"], line["kind"]) for line in lines} == {(asked.json["id"], "export")}
    assert [line["request_id"] for line in lines] == [asked.headers[REQUEST_ID], "-", "-"]
    assert (lines[2]["state"], lines[2]["tries"]) == ("done", 1)
    assert lines[2]["seconds"] >= 0


def test_what_breaks_is_logged_with_the_id_of_its_request(client: FlaskClient, written) -> None:
    application: Any = client.application
    application.view_functions["health.healthz"] = _breaks
    answer = client.get("/healthz")
    assert answer.status_code == 500
    broken = [line for line in written() if line["level"] == "ERROR"]
    assert [line["request_id"] for line in broken] == [answer.headers[REQUEST_ID]]
    assert "ZeroDivisionError" in broken[0]["message"]


def _breaks() -> Any:
    return 1 / 0


def test_ids_are_our_own_unless_a_trusted_proxy_gave_one(database_url: str) -> None:
    given = {REQUEST_ID: "0123456789abcdef-of-a-proxy"}
    for proxies, kept in ((0, False), (1, True)):
        app = create_app(Settings(database_url, trusted_proxies=proxies))
        answer = app.test_client().get("/healthz", headers=given)
        assert (answer.headers[REQUEST_ID] == given[REQUEST_ID]) is kept
        odd = app.test_client().get("/healthz", headers={REQUEST_ID: "a name\tof somebody"})
        assert odd.headers[REQUEST_ID].isalnum()
        app.extensions["heeldepth"].close()


def test_two_requests_have_two_ids(client: FlaskClient) -> None:
    ids = {client.get("/healthz").headers[REQUEST_ID] for _ in range(20)}
    assert len(ids) == 20
