"""Bodies are taken in no further than they may go, which is asked over raw sockets."""

from __future__ import annotations

import json
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import pytest
import waitress

from service.app import Service, create_app
from service.bodies import bound
from service.body_limits import OF_ONE_PERSON, SHORT, Bounds
from service.commands.keeping import NEVER

USUAL, FILE = 100_000, 400_000
PATIENCE_S = 10


@dataclass
class Raw:
    """A server on the loopback that is spoken to byte by byte."""

    app: Service
    port: int
    bounds: Bounds

    def connect(self) -> socket.socket:
        return socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE_S)

    def begun(self, head: str, body: bytes = b"") -> socket.socket:
        """Return a connection on which a request was begun."""
        connection = self.connect()
        connection.sendall(f"{head}\r\nHost: 127.0.0.1\r\n\r\n".replace("\n", "\r\n").encode()
                           .replace(b"\r\r\n", b"\r\n") + body)  # fmt: skip
        return connection

    def answered(self, head: str, body: bytes = b"") -> tuple[int, bytes]:
        """Return status and all that comes until the connection is closed."""
        with self.begun(head, body) as connection:
            return told(connection)


def told(connection: socket.socket) -> tuple[int, bytes]:
    received = b""
    try:
        while piece := connection.recv(65_536):
            received += piece
    except (ConnectionResetError, TimeoutError):
        pass
    return int(received.split(b" ", 2)[1]), received


@pytest.fixture
def raw(world: Any) -> Iterator[Raw]:
    """Yield a server on the database of `world`."""
    settings = replace(world.app.config["HEELDEPTH"], most_body_bytes=USUAL, most_upload_bytes=FILE)
    app = create_app(settings)
    server = waitress.create_server(
        app,
        host="127.0.0.1",
        port=0,
        threads=4,
        max_request_body_size=NEVER,
        asyncore_use_poll=True,
    )
    bound(server, app)
    running = threading.Thread(target=server.run, daemon=True)
    running.start()
    yield Raw(app, server.effective_port, server.channel_class.parser_class.bounds)
    server.task_dispatcher.shutdown()
    server.close()
    app.extensions["heeldepth"].close()


def test_a_request_with_two_lengths_is_refused_and_its_connection_closed(raw: Raw) -> None:
    head = "POST /v1/schedules HTTP/1.1\nContent-Length: 3\nTransfer-Encoding: chunked"
    smuggled = b"0\r\n\r\nGET /healthz HTTP/1.1\r\nHost: x\r\n\r\n"
    status, received = raw.answered(head, smuggled)
    assert status == 400
    assert received.count(b"HTTP/1.1 ") == 1, "what follows is not answered"


def upload(world: Any, token: str | None, length: int = FILE) -> str:
    who = f"\nAuthorization: Bearer {token}" if token else ""
    path = f"/v1/groups/{world.mine.steward.group_id}/imports"
    return f"POST {path} HTTP/1.1\nContent-Type: text/csv\nContent-Length: {length}{who}"


@pytest.mark.parametrize("path", ["/nowhere", "/v1/schedules", "/v1/groups", "/login", "/ask"])
def test_no_more_than_usual_is_taken_where_no_file_is_expected(raw: Raw, path: str) -> None:
    head = f"POST {path} HTTP/1.1\nContent-Type: application/json\nContent-Length: {USUAL + 1}"
    status, _ = raw.answered(head, b"x" * 1000)
    assert status in {404, 405, 413, 401}, "it is answered before the body has come"


def test_a_stranger_sends_no_file(world: Any, raw: Raw) -> None:
    for token, wanted in (
        (None, 401),
        ("heeldepth_" + "x" * 38, 401),
        (world.mine.knitter.token, 403),
        (world.theirs.steward.token, 404),
    ):
        status, received = raw.answered(upload(world, token), b"x" * 1000)
        assert (status, b"problem+json" in received) == (wanted, True), token


def test_a_steward_sends_a_file_as_long_as_a_file_may_be(world: Any, raw: Raw) -> None:
    table = world.report_table().encode()
    content = table + b"," * (FILE - 1 - len(table))
    head = upload(world, world.mine.steward.token, len(content))
    with raw.begun(head, content) as connection:
        received = connection.recv(65_536)
    assert int(received.split(b" ", 2)[1]) in {200, 202, 207, 422}, received
    status, received = raw.answered(upload(world, world.mine.steward.token, FILE + 1))
    assert status == 413
    body = json.loads(received.split(b"\r\n\r\n", 1)[1])
    assert f"{FILE:,} bytes" in body["detail"]


def test_who_asks_first_is_told_whether_to_go_on(world: Any, raw: Raw) -> None:
    expect = "\nExpect: 100-continue"
    with raw.begun(upload(world, world.mine.steward.token) + expect) as connection:
        assert connection.recv(100).startswith(b"HTTP/1.1 100 ")
    assert raw.answered(upload(world, None) + expect)[0] == 401


def chunk(size: int) -> bytes:
    return f"{size:x}\r\n".encode() + b"x" * size + b"\r\n"


def test_a_body_in_pieces_ends_where_it_becomes_too_long(world: Any, raw: Raw) -> None:
    head = "POST /v1/schedules HTTP/1.1\nTransfer-Encoding: chunked\nContent-Type: application/json"
    with raw.begun(head) as connection:
        for _ in range(USUAL // 1000 + 20):
            try:
                connection.sendall(chunk(1000))
            except OSError:
                break
        assert told(connection)[0] == 413


def test_unfinished_bodies_have_a_limit_together_and_give_it_back(world: Any, raw: Raw) -> None:
    most = raw.bounds.files._left // FILE
    group_id = world.mine.steward.group_id
    stewards = [world.member(group_id, f"Invented {n}", "steward") for n in range(most)]
    token = world.mine.steward.token
    held = [raw.begun(upload(world, one.token), b"x" * 1000) for one in stewards]
    until = time.monotonic() + PATIENCE_S
    while raw.bounds.files._left and time.monotonic() < until:
        time.sleep(0.01)
    status, received = raw.answered(upload(world, token), b"x" * 1000)
    assert (status, b"try again" in received) == (503, True)
    small = "POST /v1/schedules HTTP/1.1\nContent-Type: application/json\nContent-Length: 2"
    with raw.begun(small, b"{}") as connection:
        assert connection.recv(100).startswith(b"HTTP/1.1 422"), "others are answered"
    for connection in held:
        connection.close()
    until = time.monotonic() + PATIENCE_S
    while raw.bounds.files._left < most * FILE and time.monotonic() < until:
        time.sleep(0.01)
    assert raw.bounds.files._left == most * FILE


def test_others_bodies_have_a_limit_together_too(raw: Raw) -> None:
    head = f"POST /nowhere HTTP/1.1\nContent-Length: {SHORT + 1}"
    most = raw.bounds.others._left // USUAL
    held = [raw.begun(head, b"x") for _ in range(most)]
    until = time.monotonic() + PATIENCE_S
    while raw.bounds.others._left and time.monotonic() < until:
        time.sleep(0.01)
    assert raw.answered(head, b"x")[0] == 503
    for connection in held:
        connection.close()


def test_one_person_takes_no_more_than_their_part_of_what_may_be_on_its_way(
    world: Any, raw: Raw
) -> None:
    token = world.mine.steward.token
    held = [raw.begun(upload(world, token), b"x" * 1000) for _ in range(OF_ONE_PERSON)]
    until = time.monotonic() + PATIENCE_S
    while raw.bounds.files._left > 2 * FILE and time.monotonic() < until:
        time.sleep(0.01)
    status, received = raw.answered(upload(world, token), b"x" * 1000)
    assert (status, b"your other files" in received) == (503, True)
    other = world.member(world.mine.steward.group_id, "Wigeon", "steward")
    content = world.report_table().encode()
    content += b"," * (USUAL + 1 - len(content))
    with raw.begun(upload(world, other.token, len(content)), content) as connection:
        assert int(connection.recv(65_536).split(b" ", 2)[1]) != 503
    for connection in held:
        connection.close()
