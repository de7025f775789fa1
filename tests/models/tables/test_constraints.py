"""What the database refuses even if every rule above it were forgotten.

Two invented groups get one row in every table; then one row is changed so that one constraint after
the other no longer holds.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from sqlalchemy import (
    CheckConstraint,
    Connection,
    Constraint,
    ForeignKeyConstraint,
    Integer,
    Table,
    UniqueConstraint,
)
from sqlalchemy.exc import IntegrityError

from models.domain.foot import MEASUREMENTS
from models.domain.quantities import DECREASES_PER_ROUND, YARN_WEIGHT, Quantity
from models.domain.reports import AFTERWARDS, SOCK
from models.domain.sizes import NUMBERS, OPTIONAL_NUMBERS
from models.tables.base import Base, now
from models.tables.engine import Database

TABLES = Base.metadata.tables
LIMITS: dict[str, tuple[Quantity, ...]] = {
    "feet": MEASUREMENTS,
    "yarns": (YARN_WEIGHT,),
    "sizes": (*NUMBERS, *OPTIONAL_NUMBERS),
    "reports": (*SOCK, DECREASES_PER_ROUND, *AFTERWARDS),
}
OTHER_CHECKS = {
    "ck_members_role": ("members", "role", "queen"),
    "ck_yarns_metres_per_100g": ("yarns", "metres_per_100g", 0.0),
    "ck_reports_status": ("reports", "status", "lost"),
    "ck_reviews_status": ("reviews", "status", "lost"),
    "ck_reviews_reason": ("reviews", "reason", "dislike"),
    "ck_invitations_role": ("invitations", "role", "queen"),
    "ck_jobs_state": ("jobs", "state", "lost"),
    "ck_invitations_uses_left": ("invitations", "uses_left", 2),
}

_NOT_BEGUN = {"done": 0, "tries": 0}

Rows = dict[str, dict[str, Any]]


class TwoGroups:
    """One row of every table in each of two groups, and a way to change one."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection
        self.own, self.other = (_fill(connection, name) for name in ("own", "other"))

    def change(self, table: str, row: dict[str, Any], **values: Any) -> None:
        """Change a row in a savepoint of its own."""
        of = TABLES[table]
        with self.connection.begin_nested():
            self.connection.execute(of.update().where(of.c.id == row["id"]).values(**values))

    def complaint(self, table: str, row: dict[str, Any], **values: Any) -> str:
        """Return what the database says to a change that it must refuse."""
        with pytest.raises(IntegrityError) as caught:
            self.change(table, row, **values)
        return str(caught.value.orig)


@pytest.fixture
def groups(database: Database) -> Iterator[TwoGroups]:
    with database.engine.begin() as connection:
        yield TwoGroups(connection)


def test_a_role_outside_the_enumeration_is_refused(groups: TwoGroups) -> None:
    said = groups.complaint("members", groups.own["members"], role="queen")
    assert "ck_members_role" in said


def test_a_report_on_a_foot_of_another_group_is_refused(groups: TwoGroups) -> None:
    foreign = groups.other["feet"]["id"]
    said = groups.complaint("reports", groups.own["reports"], foot_id=foreign)
    assert _named("fk_reports_group_id_foot_id", groups, said)


def test_every_reference_refuses_a_row_of_another_group(groups: TwoGroups) -> None:
    for table, constraint in _constraints(ForeignKeyConstraint):
        column, to = constraint.column_keys[-1], constraint.referred_table.name
        if column == "group_id":
            continue
        value = groups.other[to]["id"] if "group_id" in TABLES[to].c else "nobody"
        said = groups.complaint(table.name, groups.own[table.name], **{column: value})
        assert _named(str(constraint.name), groups, said), said


def test_every_row_of_a_group_that_does_not_exist_is_refused(groups: TwoGroups) -> None:
    for table in TABLES.values():
        if "group_id" in table.c:
            said = groups.complaint(table.name, groups.own[table.name], group_id="nowhere")
            assert "foreign key" in said.lower(), table.name


def test_every_unique_constraint_refuses_a_second(groups: TwoGroups) -> None:
    for table, constraint in _constraints(UniqueConstraint):
        columns = [column.name for column in constraint.columns]
        if "id" in columns:  # there for others to refer to; the primary key holds it already
            continue
        same = {name: groups.own[table.name][name] for name in columns}
        said = groups.complaint(table.name, groups.other[table.name], **same)
        listed = ", ".join(f"{table.name}.{name}" for name in columns)
        assert str(constraint.name) in said or said.endswith(listed), said


def test_every_number_outside_its_limits_is_refused_and_the_limits_are_not(
    groups: TwoGroups,
) -> None:
    for table, quantities in LIMITS.items():
        row = groups.own[table]
        for quantity in quantities:
            for value in (quantity.low - 1, quantity.high + 1):
                said = groups.complaint(table, row, **{quantity.name: value})
                assert f"ck_{table}_{quantity.name}" in said
            for value in (quantity.low, quantity.high):
                groups.change(table, row, **{quantity.name: value})


def test_every_other_check_refuses(groups: TwoGroups) -> None:
    for name, (table, column, value) in OTHER_CHECKS.items():
        assert name in groups.complaint(table, groups.own[table], **{column: value})


def test_no_check_is_left_out_above() -> None:
    tried = {f"ck_{table}_{q.name}" for table, quantities in LIMITS.items() for q in quantities}
    assert {str(found.name) for _, found in _constraints(CheckConstraint)} == tried | {
        *OTHER_CHECKS
    }


def _named(name: str, groups: TwoGroups, said: str) -> bool:
    """Return whether a complaint names a reference; SQLite never says which one it was."""
    sqlite = groups.connection.dialect.name == "sqlite"
    return said == "FOREIGN KEY constraint failed" if sqlite else name in said


def _constraints(kind: type[Constraint]) -> Iterator[tuple[Table, Any]]:
    for table in TABLES.values():
        for constraint in sorted(table.constraints, key=lambda found: str(found.name)):
            if isinstance(constraint, kind):
                yield table, constraint


def _fill(connection: Connection, name: str) -> Rows:
    """Insert one row into every table, each referring to those before it."""
    rows: Rows = {}
    for table in Base.metadata.sorted_tables:
        row = _values(name)[table.name]
        for reference in table.foreign_keys:
            row[reference.parent.name] = rows[reference.column.table.name][reference.column.name]
        if not isinstance(table.c.id.type, Integer):
            row["id"] = f"{name} {table.name}"
        result = connection.execute(table.insert().values(**row))
        rows[table.name] = {**row, "id": result.inserted_primary_key[0]}
    return rows


def _values(name: str) -> Rows:
    """Return what each table wants besides identifiers and references."""
    return {
        "people": {},
        "groups": {"name": name},
        "members": {"name": name, "role": "designer"},
        "tokens": {"digest": name, "label": "invented"},
        "invitations": {
            "digest": name,
            "role": "knitter",
            "uses": 1,
            "uses_left": 1,
            "expires_at": now(),
        },
        "accounts": {"username": name, "password_hash": "invented"},
        "login_sessions": {"digest": name, "expires_at": now()},
        "password_resets": {"digest": name, "expires_at": now()},
        "idempotency_keys": {
            "key": name,
            "request_digest": "0" * 64,
            "status": 201,
            "body": "{}",
        },
        "feet": {"foot_length_mm": 250.0, "foot_circumference_mm": 230.0},
        "yarns": {"name": name, "yarn_weight": 1},
        "designs": {"name": name},
        "sizes": {"label": name},
        "calibrations": {
            "number": len(name),
            "reports": 3,
            "reporters": 1,
            "fingerprint": "0" * 64,
            "artefact": {},
        },
        "activations": {},
        "erasures": {"digest": name},
        "kept_results": {"kind": "defaults", "key": name, "body": "{}"},
        "shown_figures": {"people": {}, "erased": 1},
        "shown_slices": {"number": 0, "people": {}, "erased": 1},
        "suggestions": {"question": {}, "answer": {}},
        "contributions": {"summary": {}},
        "pool_uses": {},
        "taken_summaries": {"origin": name, "summary": {}},
        "adoptions": {"changes": []},
        "jobs": {"kind": "export", "scopes": "read", "state": "done", "asked": {}, **_NOT_BEGUN},
        "job_pieces": {"number": len(name), "content": b"invented"},
        "reports": {quantity.name: (quantity.low + quantity.high) // 2 for quantity in SOCK},
        "reviews": {"status": "held", "reason": "copy"},
    }
