"""The newest migration and the tables say the same, also where autogenerate does not look."""

from __future__ import annotations

from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Connection, Inspector, inspect

from migrations import runner
from models.domain.foot import MEASUREMENTS
from models.domain.reports import AFTERWARDS, SOCK
from models.domain.sections import COUNT_NAMES
from models.tables.base import Base
from models.tables.engine import Database


def test_autogenerate_finds_nothing_to_do(database: Database) -> None:
    with database.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_every_column_and_constraint_is_as_the_tables_say(database, empty_database_url) -> None:
    created = Database(empty_database_url)
    with created.engine.begin() as connection:
        Base.metadata.create_all(connection)
        wanted = _described(connection)
    created.close()
    with database.engine.connect() as connection:
        migrated = _described(connection)
    del migrated["alembic_version"]
    assert migrated == wanted


def test_every_constraint_is_named_by_the_convention(database: Database) -> None:
    with database.engine.connect() as connection:
        described = _described(connection)
    del described["alembic_version"]
    for table, parts in described.items():
        for kind in ("pk", "fk", "uq", "ck", "ix"):
            for name in parts[kind]:
                assert name.startswith(f"{kind}_{table}"), (table, name)
    assert described["reports"]["fk"]["fk_reports_group_id_foot_id"]["to"] == "feet"


@pytest.mark.parametrize("quantity", MEASUREMENTS, ids=lambda quantity: quantity.name)
def test_feet_has_a_column_for_every_measurement(database, quantity) -> None:
    columns = _columns(database, "feet")
    assert quantity.name in columns, f"add {quantity.name} to models/tables and a migration"
    assert columns[quantity.name]["nullable"] is not quantity.required


@pytest.mark.parametrize("quantity", [*SOCK, *AFTERWARDS], ids=lambda quantity: quantity.name)
def test_reports_has_a_column_for_every_number_of_a_sock(database, quantity) -> None:
    columns = _columns(database, "reports")
    assert quantity.name in columns, f"add {quantity.name} to models/tables and a migration"
    assert columns[quantity.name]["nullable"] is not quantity.required


def test_no_column_is_left_of_what_the_registries_no_longer_have(database: Database) -> None:
    feet, reports = _columns(database, "feet"), _columns(database, "reports")
    assert {name for name in feet if name.endswith("_mm")} == {m.name for m in MEASUREMENTS}
    assert {name for name in reports if name.endswith("_rounds")} == set(COUNT_NAMES)


def test_a_migration_file_can_be_imported_and_counts_up() -> None:
    names = [file.stem for file in (runner.HERE / "versions").glob("r*.py")]
    numbers = sorted(name[1:5] for name in names)
    assert all(name.isidentifier() for name in names)
    assert numbers == [f"{number:04d}" for number in range(1, len(names) + 1)]


def _columns(database: Database, table: str) -> dict[str, Any]:
    with database.engine.connect() as connection:
        return {column["name"]: column for column in inspect(connection).get_columns(table)}


def _described(connection: Connection) -> dict[str, dict[str, Any]]:
    inspector = inspect(connection)
    return {table: _parts(inspector, table) for table in inspector.get_table_names()}


def _parts(inspector: Inspector, table: str) -> dict[str, Any]:
    """Return columns and constraints by name, as the database itself states them."""
    key = inspector.get_pk_constraint(table)
    return {
        "columns": {
            column["name"]: (str(column["type"]), column["nullable"], str(column["default"]))
            for column in inspector.get_columns(table)
        },
        "pk": {key["name"]: key["constrained_columns"]},
        "fk": {
            found["name"]: {
                "of": found["constrained_columns"],
                "to": found["referred_table"],
                "by": found["referred_columns"],
                "options": found["options"],
            }
            for found in inspector.get_foreign_keys(table)
        },
        "uq": {
            found["name"]: found["column_names"]
            for found in inspector.get_unique_constraints(table)
        },
        "ck": {found["name"]: found["sqltext"] for found in inspector.get_check_constraints(table)},
        "ix": {
            found["name"]: (found["column_names"], found["unique"])
            for found in inspector.get_indexes(table)
            if "duplicates_constraint" not in found
        },
    }
