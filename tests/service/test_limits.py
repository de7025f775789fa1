"""What is counted, for whom, and what one too many is told."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from limits.errors import StorageError
from limits.strategies import MovingWindowRateLimiter

from models.domain.errors import Invalid
from service.app import create_app

TWO = "2 per 5 minutes"
KNOWN = {"username": "invented.username", "password": "invented password"}


@pytest.fixture
def strict(world: Any) -> Iterator[Any]:
    """Yield a client of a service on the same database that counts to two."""
    settings = replace(
        world.app.config["HEELDEPTH"], login_limit=TWO, report_limit=TWO, joining_limit=TWO
    )
    app = create_app(replace(settings, trusted_proxies=1))
    yield app.test_client()
    app.extensions["heeldepth"].close()


def refused(answer: Any, is_problem: Any) -> None:
    problem = is_problem(answer, 429)
    assert problem["type"] == "urn:heeldepth:problem:too-often"
    assert "at most 2 per 5 minutes" in problem["detail"]
    assert 1 <= int(answer.headers["Retry-After"]) <= 300


def login(client: Any, username: str, address: str = "192.0.2.1") -> Any:
    body = {**KNOWN, "username": username}
    return client.post("/v1/sessions", json=body, headers={"X-Forwarded-For": address})


def test_logging_in_is_counted_for_a_username_from_an_address(strict: Any, is_problem: Any) -> None:
    assert [login(strict, "wren.one").status_code for _ in range(2)] == [401, 401]
    refused(login(strict, "wren.one"), is_problem)
    assert login(strict, "WREN.two").status_code == 401
    assert login(strict, "wren.one", "192.0.2.2").status_code == 401


def test_the_right_password_is_counted_like_a_wrong_one(
    world: Any, strict: Any, is_problem: Any
) -> None:
    assert world.mine.knitter.post("/v1/accounts", KNOWN).status_code == 201
    assert [login(strict, KNOWN["username"]).status_code for _ in range(2)] == [201, 201]
    refused(login(strict, KNOWN["username"]), is_problem)


def test_reports_are_counted_for_a_token_and_one_too_many_is_not_written(
    world: Any, strict: Any, is_problem: Any
) -> None:
    knitter, steward = (
        replace(who, client=strict) for who in (world.mine.knitter, world.mine.steward)
    )
    for _ in range(2):
        knitter.make("/reports", world.report())
    refused(knitter.post("/reports", world.report()), is_problem)
    steward.make("/reports", world.report())
    assert len(knitter.items("/reports")) == 2


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("/v1/groups", {"name": "Invented terns", "steward": "Isolde", "consent_version": 3}),
        ("/v1/invitations/invented/acceptance", {"name": "Isolde", "consent_version": 3}),
        ("/v1/accounts/password", {"code": "invented", "password": KNOWN["password"]}),
    ],
)
def test_founding_joining_and_resetting_are_counted_for_an_address(
    strict: Any, is_problem: Any, path: str, body: dict[str, Any]
) -> None:
    for address in ("192.0.2.1", "192.0.2.2"):
        headers = {"X-Forwarded-For": address}
        for _ in range(2):
            assert strict.post(path, json=body, headers=headers).status_code in {201, 404}
        refused(strict.post(path, json=body, headers=headers), is_problem)


def test_where_no_proxy_is_trusted_an_address_cannot_be_made_up(
    world: Any, is_problem: Any
) -> None:
    app = create_app(replace(world.app.config["HEELDEPTH"], login_limit=TWO))
    client = app.test_client()
    for number in range(2):
        assert login(client, "wren.one", f"192.0.2.{number}").status_code == 401
    refused(login(client, "wren.one", "192.0.2.9"), is_problem)
    app.extensions["heeldepth"].close()


def test_a_store_that_cannot_be_used_is_named_at_the_start_without_its_password(
    world: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(__import__("sys").modules, "redis", None)
    url = "redis://:invented-secret@127.0.0.1:1/0"
    with pytest.raises(Invalid, match="HEELDEPTH_RATE_LIMIT_STORAGE_URL") as caught:
        create_app(replace(world.app.config["HEELDEPTH"], rate_limit_storage_url=url))
    assert "invented-secret" not in str(caught.value)


def test_where_the_counters_cannot_be_reached_nothing_is_let_through_uncounted(
    world: Any, is_problem: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unreachable(*_given: Any, **_more: Any) -> bool:
        raise StorageError(ConnectionError("invented outage"))

    monkeypatch.setattr(MovingWindowRateLimiter, "hit", unreachable)
    answer = world.mine.knitter.post("/reports", world.report())
    problem = is_problem(answer, 503)
    assert "invented outage" not in problem["detail"]
    assert world.mine.knitter.items("/reports") == []
