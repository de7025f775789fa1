"""Every error as application/problem+json, and nothing of what broke inside."""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Callable
from functools import partial
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout
from sqlalchemy.orm import Session
from sqlalchemy.orm.exc import StaleDataError
from werkzeug.exceptions import ServiceUnavailable

from models.actions import feet, reports
from models.domain.errors import Busy, Conflict, Unavailable

SECRET = "invented secret words"  # noqa: S105 -- a note that must not be logged


@pytest.mark.parametrize("path", ["/", "/v1", "/v1/nothing", "/v1/groups/", "/v1/groups/x/feet"])
def test_an_unknown_path_is_404(lasting: Any, is_problem: Any, path: str) -> None:
    is_problem(lasting.mine.steward.ask("GET", f"/v1/..{path}" if path == "/" else path), 404)


@pytest.mark.parametrize(
    ("method", "path", "allowed"),
    [
        ("POST", "/v1/yarn-weights", {"GET", "HEAD", "OPTIONS"}),
        ("GET", "/v1/schedules", {"POST", "OPTIONS"}),
        ("DELETE", "/healthz", {"GET", "HEAD", "OPTIONS"}),
        ("PUT", f"/v1/groups/{'0' * 32}/reports", {"GET", "HEAD", "POST", "OPTIONS"}),
        ("TRACE", "/docs", {"GET", "HEAD", "OPTIONS"}),
    ],
)
def test_a_method_that_a_path_does_not_have_is_405_with_those_it_has(
    lasting: Any, is_problem: Any, method: str, path: str, allowed: set[str]
) -> None:
    answer = lasting.client.open(path, method=method)
    is_problem(answer, 405)
    assert set(answer.headers["Allow"].split(", ")) == allowed


def test_a_pointer_escapes_what_rfc_6901_escapes(lasting: Any, faults: Any) -> None:
    found = faults(lasting.client.post("/v1/schedules", json=lasting.schedule(**{"a/b~c": 1})))
    assert list(found) == ["/a~1b~0c"]


def test_long_values_are_cut_in_answers(lasting: Any) -> None:
    body = lasting.schedule(close="x" * 100_000)
    answer = lasting.client.post("/v1/schedules", json=body)
    assert answer.status_code == 422
    assert len(answer.data) < 1000


def failing(error: Exception) -> Callable[..., Any]:
    def fail(*_: Any, **__: Any) -> Any:
        raise error

    return fail


def test_what_breaks_inside_is_a_500_without_details(
    world: Any, is_problem: Any, monkeypatch: pytest.MonkeyPatch, caplog: Any
) -> None:
    monkeypatch.setattr(feet, "list_feet", failing(RuntimeError("inner words")))
    answer = world.mine.steward.get("/feet")
    problem = is_problem(answer, 500)
    assert problem["detail"] == "Something broke here"
    assert "inner words" not in answer.text
    told = "those who keep the service running must see where, not what somebody sent"
    assert "RuntimeError on GET /v1/groups/<hexid:group_id>/feet" in caplog.text, told
    assert "raise error" in caplog.text, told
    assert "inner words" not in caplog.text, told


def test_what_breaks_after_writing_leaves_nothing_written(
    world: Any, is_problem: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reports, "as_read", failing(RuntimeError("inner words")))
    is_problem(world.mine.steward.post("/reports", world.report(), Idempotency_Key="k"), 500)
    monkeypatch.undo()
    assert world.mine.steward.items("/reports") == []
    assert world.mine.steward.items("/feet") == []
    again = world.mine.steward.post("/reports", world.report(), Idempotency_Key="k")
    assert again.status_code == 201


def test_a_500_logs_neither_token_nor_notes_nor_names(
    world: Any, is_problem: Any, monkeypatch: pytest.MonkeyPatch, caplog: Any
) -> None:
    caplog.set_level(logging.DEBUG)
    monkeypatch.setattr(reports, "as_read", failing(RuntimeError("inner words")))
    body = world.report(notes=SECRET, reporter="Wisteria")
    is_problem(world.mine.steward.post("/reports", body), 500)
    for private in (world.mine.steward.token, SECRET, "Wisteria", "Ottoline"):
        assert private not in caplog.text


def test_a_statement_that_the_database_refuses_is_logged_without_its_values(
    world: Any, monkeypatch: pytest.MonkeyPatch, caplog: Any
) -> None:
    def refused(session: Any, *_: Any, **__: Any) -> None:
        session.execute(text("SELECT :note FROM nowhere"), {"note": SECRET})

    monkeypatch.setattr(reports, "list_reports", refused)
    answer = world.mine.steward.get("/reports")
    assert answer.status_code in (500, 503)
    assert SECRET not in answer.text
    assert SECRET not in caplog.text


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (StaleDataError(), 412),
        (IntegrityError("SELECT secret", {}, ValueError(SECRET)), 409),
        (OperationalError("SELECT secret", {}, ValueError(SECRET)), 503),
        (PoolTimeout("QueuePool limit"), 503),
        (Conflict("it is so already"), 409),
        (Unavailable("later"), 503),
    ],
    ids=lambda value: type(value).__name__,
)
def test_errors_of_the_database_have_statuses_of_their_own_and_hide_its_words(
    lasting: Any,
    is_problem: Any,
    monkeypatch: pytest.MonkeyPatch,
    caplog: Any,
    error: Exception,
    status: int,
) -> None:
    monkeypatch.setattr(feet, "list_feet", failing(error))
    answer = lasting.mine.steward.get("/feet")
    is_problem(answer, status)
    assert "SELECT" not in answer.text + caplog.text
    assert SECRET not in answer.text + caplog.text
    if isinstance(error, OperationalError):
        assert int(answer.headers["Retry-After"]) > 0


def test_where_the_end_of_a_transaction_breaks_nobody_says_that_nothing_was_changed(
    world: Any, is_problem: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(_session: Session) -> None:
        raise OperationalError("COMMIT", {}, ConnectionError())

    sent = partial(world.mine.steward.post, "/reports", world.report(), Idempotency_Key="invented")
    with monkeypatch.context() as patched:
        patched.setattr(Session, "commit", breaks)
        told = is_problem(sent(), 503)["detail"]
    assert "is not known" in told
    assert "nothing was changed" not in told
    assert sent().status_code == 201


def test_a_part_of_a_form_that_is_too_long_is_not_told_the_limit_of_the_whole(world: Any) -> None:
    part = b'--invented\r\nContent-Disposition: form-data; name="more"\r\n\r\n'
    body = part + b"y" * 600_000 + b"\r\n--invented--\r\n"
    kind = "multipart/form-data; boundary=invented"
    sent = world.client.post("/login", data=body, content_type=kind)
    assert "1,000,000" not in sent.text
    assert sent.status_code in (403, 413)


@pytest.mark.parametrize(
    "error",
    [
        Unavailable("invented"),
        Busy("invented"),
        ServiceUnavailable("invented"),
        PoolTimeout(),
        OperationalError("invented", None, sqlite3.OperationalError("invented")),
    ],
    ids=lambda error: type(error).__name__,
)
def test_whatever_cannot_be_answered_now_says_when_to_come_back(
    world: Any, is_problem: Any, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise error

    monkeypatch.setattr(reports, "list_reports", refuse)
    answer = world.mine.knitter.get("/reports")
    is_problem(answer, 503)
    assert int(answer.headers["Retry-After"]) >= 1
