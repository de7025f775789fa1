"""What is counted, for whom, and what one too many is told."""

from __future__ import annotations

import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Event, Semaphore
from typing import Any

import pytest
from argon2.exceptions import VerifyMismatchError
from limits.errors import StorageError
from limits.strategies import MovingWindowRateLimiter

from models.actions import accounts
from models.domain.errors import Invalid
from service.app import create_app

TWO = "2 per 5 minutes"
KNOWN = {"username": "invented.username", "password": "invented password"}


@pytest.fixture
def strict(world: Any) -> Iterator[Any]:
    """Yield a client of a service on the same database that counts to two."""
    settings = replace(
        world.app.config["HEELDEPTH"],
        login_limit=TWO,
        report_limit=TWO,
        joining_limit=TWO,
        founding_limit=TWO,
        group_creation="open",
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


def test_reports_are_counted_for_a_person_and_one_too_many_is_not_written(
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


def test_tokens_of_one_person_share_their_counter(world: Any, strict: Any, is_problem: Any) -> None:
    first = replace(world.mine.knitter, client=strict)
    token = first.make("/v1/tokens", {"label": "spare"})["token"]
    second = replace(first, token=token)
    first.make("/reports", world.report())
    second.make("/reports", world.report())
    for who in (first, second):
        refused(who.post("/reports", world.report()), is_problem)


@pytest.fixture
def watched(world: Any) -> Iterator[Any]:
    """Yield a client of a service that counts to two whatever is tried in all."""
    settings = world.app.config["HEELDEPTH"]
    app = create_app(replace(settings, login_total_limit=TWO, trusted_proxies=1))
    yield app.test_client()
    app.extensions["heeldepth"].close()


def test_many_usernames_from_one_address_meet_the_limit(watched: Any, is_problem: Any) -> None:
    said = [login(watched, f"wren.{n}") for n in range(3)]
    assert [one.status_code for one in said[:2]] == [401, 401]
    refused(said[2], is_problem)
    assert login(watched, "wren.9", "192.0.2.2").status_code == 401, "others are let in"


def test_one_username_from_many_addresses_meets_the_limit(watched: Any, is_problem: Any) -> None:
    said = [login(watched, "wren.one", f"192.0.2.{n}") for n in range(3)]
    assert [one.status_code for one in said[:2]] == [401, 401]
    refused(said[2], is_problem)
    assert login(watched, "wren.two", "192.0.2.9").status_code == 401


def test_the_addresses_of_an_ipv6_network_are_one(watched: Any, is_problem: Any) -> None:
    for n in range(2):
        assert login(watched, f"wren.{n}", f"2001:db8:1:2::{n}").status_code == 401
    refused(login(watched, "wren.9", "2001:db8:1:2:ffff::"), is_problem)
    assert login(watched, "wren.8", "2001:db8:1:3::").status_code == 401


def test_a_person_founds_a_few_groups_a_day(world: Any, strict: Any, is_problem: Any) -> None:
    knitter = replace(world.mine.knitter, client=strict)
    body = {"name": "Invented terns", "steward": "Isolde", "consent_version": 3}
    for n in range(2):
        headers = {"X_Forwarded_For": f"192.0.2.{n}"}
        assert knitter.post("/v1/groups", body, **headers).status_code == 201
    refused(knitter.post("/v1/groups", body, X_Forwarded_For="192.0.2.9"), is_problem)


def test_the_password_is_asked_for_only_so_often(world: Any, strict: Any, is_problem: Any) -> None:
    knitter = replace(world.mine.knitter, client=strict)
    assert world.mine.knitter.post("/v1/accounts", KNOWN).status_code == 201
    wide = {"label": "invented", "current_password": "not the password"}
    for _ in range(2):
        is_problem(knitter.post("/v1/tokens", wide), 403)
    refused(knitter.post("/v1/tokens", {**wide, "current_password": KNOWN["password"]}), is_problem)
    refused(knitter.ask("DELETE", "/v1/me", json={"current_password": "x"}), is_problem)


def test_a_try_to_change_the_password_counts_once(world: Any, strict: Any, is_problem: Any) -> None:
    knitter = replace(world.mine.knitter, client=strict)
    assert world.mine.knitter.post("/v1/accounts", KNOWN).status_code == 201
    for _ in range(2):
        is_problem(knitter.post("/v1/accounts", {**KNOWN, "current_password": "x"}), 403)
    refused(knitter.post("/v1/accounts", {**KNOWN, "current_password": "x"}), is_problem)
    refused(knitter.post("/v1/accounts", KNOWN), is_problem)


@pytest.mark.parametrize("given", [{}, {"current_password": "x"}])
def test_usernames_are_tried_only_so_often(
    world: Any, strict: Any, is_problem: Any, given: dict[str, str]
) -> None:
    assert world.mine.steward.post("/v1/accounts", KNOWN).status_code == 201
    knitter = replace(world.mine.knitter, client=strict)
    for _ in range(2):
        is_problem(knitter.post("/v1/accounts", {**KNOWN, **given}), 422)
    refused(knitter.post("/v1/accounts", {**KNOWN, **given}), is_problem)


def test_of_many_logins_at_once_two_are_hashed_and_some_are_sent_away_at_once(
    world: Any, is_problem: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go_on = Semaphore(0), Event()

    class Slow:
        def verify(self, *_given: str) -> bool:
            begun.release()
            assert go_on.wait(30)
            raise VerifyMismatchError

    monkeypatch.setattr(accounts, "HASHER", Slow())
    monkeypatch.setattr(accounts, "nobodys_hash", lambda: "invented")
    with ThreadPoolExecutor(6) as threads:
        asked = [threads.submit(login, world.app.test_client(), f"wren.{n}") for n in range(4)]
        assert begun.acquire(timeout=30)
        assert begun.acquire(timeout=30)
        while accounts._places._value:  # the two that wait have come
            time.sleep(0.01)
        assert not begun.acquire(timeout=0.2), "only two at once"
        sent_away = login(world.app.test_client(), "wren.late")
        problem = is_problem(sent_away, 503)
        assert "try again" in problem["detail"]
        assert int(sent_away.headers["Retry-After"]) >= 1
        go_on.set()
        assert [one.result().status_code for one in asked] == [401] * 4


@pytest.mark.parametrize(
    ("changed", "headers", "status"),
    [
        ({}, {}, 201),
        ({}, {"X-Forwarded-For": "192.0.2.1"}, 403),
        ({}, {"Forwarded": "for=192.0.2.1"}, 403),
        ({}, {"X-Forwarded-Invented": "anything"}, 403),
        ({}, {"X-Real-IP": "192.0.2.1"}, 403),
        ({}, {"Host": "heeldepth.invalid"}, 403),
        ({}, {"Host": "[::1"}, 403),
        ({}, {"Host": "[::1]:8080"}, 201),
        ({}, {"Host": "127.0.0.1:8080"}, 201),
        ({"host": "0.0.0.0"}, {}, 403),  # noqa: S104
        ({"host": "192.0.2.7"}, {}, 403),
        ({"host": "::1"}, {}, 201),
        ({"host": "localhost"}, {}, 201),
        ({"trusted_proxies": 1}, {}, 403),
        ({"trusted_proxies": 1, "group_creation": "open"}, {"X-Forwarded-For": "192.0.2.1"}, 201),
        ({"group_creation": "closed"}, {}, 403),
    ],
)
def test_strangers_found_groups_only_where_this_machine_alone_is_served(
    world: Any, changed: dict[str, Any], headers: dict[str, str], status: int
) -> None:
    app = create_app(replace(world.app.config["HEELDEPTH"], **changed))
    client = app.test_client()
    body = {"name": "Invented terns", "steward": "Isolde", "consent_version": 3}
    assert client.post("/v1/groups", json=body, headers=headers).status_code == status
    page = client.get("/groups/new", headers=headers).text
    assert ("<form" in page.split("<main", 1)[1]) == (status == 201)
    app.extensions["heeldepth"].close()
