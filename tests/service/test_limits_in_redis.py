"""Limits that several processes count together, in Redis."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from service.app import create_app
from tests.service.redis_server import RedisServer

KNOWN = {"username": "invented.username", "password": "invented password"}


@pytest.fixture
def two(world: Any, redis_server: RedisServer) -> Iterator[list[Any]]:
    """Yield clients of two services that count to two in one Redis."""
    settings = world.app.config["HEELDEPTH"]
    counting = {"rate_limit_storage_url": redis_server.url, "login_limit": "2 per 5 minutes"}
    apps = [create_app(replace(settings, **counting)) for _ in range(2)]
    yield [app.test_client() for app in apps]
    for app in apps:
        app.extensions["heeldepth"].close()


def login(client: Any, username: str) -> Any:
    return client.post("/v1/sessions", json={**KNOWN, "username": username})


def test_what_one_service_has_counted_the_other_knows(two: list[Any], is_problem: Any) -> None:
    assert [login(client, "wren.one").status_code for client in two] == [401, 401]
    for client in two:
        answer = login(client, "wren.one")
        assert "at most 2 per 5 minutes" in is_problem(answer, 429)["detail"]
        assert 1 <= int(answer.headers["Retry-After"]) <= 300
    assert login(two[0], "wren.two").status_code == 401


def test_while_redis_is_gone_nothing_is_let_through_uncounted(
    two: list[Any], is_problem: Any, redis_server: RedisServer
) -> None:
    assert login(two[0], "wren.one").status_code == 401
    redis_server.stop()
    for client in two:
        assert redis_server.url not in is_problem(login(client, "wren.one"), 503)["detail"]
    redis_server.start()
    assert login(two[0], "wren.one").status_code == 401


def test_redis_is_told_no_name_and_no_address(two: list[Any], redis_server: RedisServer) -> None:
    import redis  # noqa: PLC0415 -- the fixture skips where it is not installed

    login(two[0], "wren.one")
    with redis.Redis.from_url(redis_server.url) as store:
        keys = b" ".join(store.scan_iter())
    assert keys
    assert b"wren" not in keys
    assert b"127.0.0.1" not in keys
