"""Headers on every answer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from werkzeug.test import TestResponse

from models.actions import feet
from service.app import create_app

PATHS = ["/docs", "/docs.css", "/openapi.json", "/healthz", "/", "/nowhere", "/v1/yarn-weights"]


def answers(world: Any) -> Iterator[TestResponse]:
    """Yield answers of every kind: pages, JSON, problems, redirects, 204 and 304."""
    knitter = world.mine.knitter
    yield from (world.client.get(path) for path in PATHS)
    yield world.client.post("/v1/schedules", data="{")
    yield knitter.get("/feet")
    yield knitter.get("/feet/" + "0" * 32)
    made = knitter.post("/reports", world.report())
    yield made
    read = knitter.get(made.headers["Location"])
    yield knitter.get(made.headers["Location"], If_None_Match=read.headers["ETag"])
    yield knitter.delete(made.headers["Location"], If_Match="*")
    yield world.client.options("/v1/groups")


def test_every_answer_says_what_a_browser_may_do_with_it(world: Any) -> None:
    seen = set()
    for answer in answers(world):
        seen.add(answer.status_code)
        policy = dict(
            part.strip().split(" ", 1)
            for part in answer.headers["Content-Security-Policy"].split(";")
        )
        assert policy["default-src"] == "'none'"
        assert policy["frame-ancestors"] == "'none'"
        assert not any(word in str(policy) for word in ("unsafe", "http", "*"))
        # Only pages for people have a script, and only our own.
        assert policy.get("script-src", "'self'") == "'self'"
        assert "script-src" not in policy or answer.mimetype == "text/html"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] in ("no-referrer", "same-origin")
        assert "Strict-Transport-Security" not in answer.headers
    assert seen == {200, 201, 204, 304, 404, 415}


def test_an_answer_that_breaks_has_them_too(world: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(feet, "list_feet")
    answer = world.mine.knitter.get("/feet")
    assert answer.status_code == 500
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_what_is_personal_is_kept_nowhere_on_the_way(world: Any) -> None:
    for one in world.operations():
        if one.path.startswith("/v1/"):
            path = one.path.format(
                group_id=world.mine.knitter.group_id, **dict.fromkeys(one.parameters, "0" * 32)
            )
            answer = world.mine.knitter.ask(one.method, path, **one.options)
            assert answer.headers["Cache-Control"] == "no-store", str(one)


def test_over_https_a_browser_is_told_to_stay_there(world: Any) -> None:
    answer = world.client.get("/docs", base_url="https://heeldepth.invalid")
    assert answer.headers["Strict-Transport-Security"].startswith("max-age=")


@pytest.mark.parametrize(("proxies", "believed"), [(0, False), (1, True)])
def test_only_a_trusted_proxy_says_that_the_way_was_safe(
    world: Any, proxies: int, *, believed: bool
) -> None:
    app = create_app(replace(world.app.config["HEELDEPTH"], trusted_proxies=proxies))
    headers = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "192.0.2.7"}
    answer = app.test_client().get("/docs", headers=headers)
    app.extensions["heeldepth"].close()
    assert ("Strict-Transport-Security" in answer.headers) is believed
