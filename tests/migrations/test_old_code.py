"""A process of the version before goes on working while, and after, the database is upgraded.

Whatever it reads is still there, of the same type, and whatever it inserts is still taken: columns
that it does not know are empty or fill themselves. So processes are replaced one after another.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import pytest
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, inspect

from migrations import runner

Columns = dict[str, dict[str, tuple[str, bool, bool]]]


def revisions() -> list[str]:
    """Return all revisions, oldest first."""
    walked = ScriptDirectory.from_config(runner.configuration()).walk_revisions()
    return [script.revision for script in walked][::-1]


def columns(url: str) -> Columns:
    """Return of every table its columns: type, whether required, whether it fills itself."""
    engine = create_engine(url)
    found = inspect(engine)
    read = {
        table: {
            column["name"]: (
                str(column["type"]),
                not column["nullable"],
                column["default"] is not None,
            )
            for column in found.get_columns(table)
        }
        for table in found.get_table_names()
    }
    engine.dispose()
    return read


@pytest.fixture
def schemas(empty_database_url: str) -> list[tuple[str, Columns]]:
    """Return the schema after each revision."""
    found = []
    for revision in revisions():
        runner.upgrade(empty_database_url, revision)
        found.append((revision, columns(empty_database_url)))
    return found


def broken_by(before: Columns, after: Columns) -> Iterator[str]:
    """Yield what code of the schema before could not do any more."""
    for table, old in before.items():
        new = after.get(table, {})
        for name, (kind, required, _) in old.items():
            now_kind, now_required, _ = new.get(name, ("nothing", False, False))
            if now_kind != kind:
                yield f"{table}.{name} was {kind} and is {now_kind}"
            if now_required and not required:
                yield f"{table}.{name} could be empty and must not be"
        for name in new.keys() - old.keys():
            _, required, fills_itself = new[name]
            if required and not fills_itself:
                yield f"{table}.{name} is new and required"


def test_no_step_takes_anything_from_the_version_before(schemas) -> None:
    pairs = pairwise(schemas)
    broken = {revision: list(broken_by(before, after)) for (_, before), (revision, after) in pairs}
    assert len(broken) == len(revisions()) - 1 > 0
    assert not any(broken.values()), broken


def test_what_would_break_old_code_is_seen() -> None:
    before = {"reports": {"notes": ("TEXT", False, False), "score": ("INTEGER", True, False)}}
    after = {"reports": {"notes": ("TEXT", True, False), "added": ("TEXT", True, False)}}
    assert sorted(broken_by(before, after)) == [
        "reports.added is new and required",
        "reports.notes could be empty and must not be",
        "reports.score was INTEGER and is nothing",
    ]
