"""Commands as processes: serving until stopped, and killed half-way. All rows are invented."""

from __future__ import annotations

import http.client
import json
import signal
import socket
import subprocess
import time
from pathlib import Path

import pytest
from sqlalchemy import func, select

from models.domain.consent import VERSION
from models.tables.engine import Database
from models.tables.people import Member
from models.tables.socks import Foot, Report

ROWS = 6_000
FEET = 1_500


def free_port() -> int:
    """Return a port of the loopback interface that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def healthy(port: int, process: subprocess.Popen[str]) -> dict[str, str]:
    """Return what `/healthz` says once the service listens."""
    for _ in range(300):
        assert process.poll() is None, process.communicate()
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
        try:
            connection.request("GET", "/healthz")
            answer = connection.getresponse()
            assert answer.status == 200
            return dict(json.loads(answer.read()))
        except ConnectionRefusedError:
            time.sleep(0.1)
        finally:
            connection.close()
    raise AssertionError("it never listened")


def test_serve_answers_and_stops_when_it_is_told_to(shell, started) -> None:
    port = free_port()
    process = started(shell.start("serve", HEELDEPTH_PORT=str(port)))
    assert healthy(port, process)["status"] == "alive"
    told = time.monotonic()
    process.terminate()
    out, err = process.communicate(timeout=5)
    assert time.monotonic() - told < 5
    assert process.returncode == 0
    assert f"Serving on http://127.0.0.1:{port}" in out
    assert "Traceback" not in err


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize("header", ["X-Forwarded-For", "Forwarded", "X-Forwarded-Port", "Via"])
def test_what_a_proxy_passes_on_founds_no_group_in_a_real_server(shell, started, header) -> None:
    port = free_port()
    healthy(port, started(shell.start("serve", HEELDEPTH_PORT=str(port))))
    body = {"name": "Invented terns", "steward": "Isolde", "consent_version": VERSION}
    for headers, status in (({header: "192.0.2.1"}, 403), ({}, 201)):
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
        typed = {"Content-Type": "application/json", **headers}
        connection.request("POST", "/v1/groups", json.dumps(body), typed)
        answer = connection.getresponse()
        assert answer.status == status, answer.read()
        connection.close()


@pytest.mark.only_on("sqlite")
def test_an_address_that_is_taken_is_named(shell, started) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        process = started(shell.start("serve", HEELDEPTH_PORT=str(port)))
        out, err = process.communicate(timeout=20)
    assert (process.returncode, out) == (1, "")
    assert f"Error: cannot listen on HEELDEPTH_HOST 127.0.0.1, HEELDEPTH_PORT {port}" in err
    assert "Traceback" not in err


@pytest.fixture
def large(shell) -> Path:
    """Return a file of many invented reports that all differ in their feet."""
    names = ["Alder", "Birch", "Cedar"]
    first = shell.reports(1).read_text().splitlines()[0]
    tail = "230,315,220,1,30,42,64,3,4,4,3,0"
    rows = (f"{names[n % 3]},{240 + n % 500 / 50},{tail}" for n in range(ROWS))
    return shell.file("\n".join([first, *rows]) + "\n", "large.csv")


KILLED_AFTER_TWO_PIECES = """
import os, signal
from models.actions import csv_chunks, import_reports
from models.tables import engine
csv_chunks.read_chunks.__defaults__ = (2_000,)  # rows in a piece
engine.CACHE_KIB = 100  # so that SQLite's rows reach the disk before the end
write, written = import_reports._write, []
def write_or_die(*arguments, **options):
    known = write(*arguments, **options)
    written.append(1)
    if len(written) == 2:
        os.kill(os.getpid(), signal.SIGKILL)
    return known
import_reports._write = write_or_die
from service.cli import main
main()
"""


def counted(shell) -> list[int]:
    """Return how many reports, feet and members there are."""
    database = Database(shell.settings["HEELDEPTH_DATABASE_URL"])
    with database.read() as session:
        tables = (Report, Foot, Member)
        found = [session.scalar(select(func.count()).select_from(table)) or 0 for table in tables]
    database.close()
    return found


def test_an_import_killed_half_way_leaves_nothing_and_can_be_repeated(
    shell, group, large, started
) -> None:
    process = started(shell.start("import", large, "--group", group, code=KILLED_AFTER_TWO_PIECES))
    out, _ = process.communicate(timeout=60)
    assert (process.returncode, out) == (-signal.SIGKILL, "")
    assert counted(shell) == [0, 0, 1]
    done = shell.run("import", large, "--group", group)
    assert (done.exit_code, done.stdout) == (0, f"Imported {ROWS} reports.\n")
    assert counted(shell) == [ROWS, FEET, 4]
