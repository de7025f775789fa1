"""Every reference is found by an index: of what somebody has, of what goes with an erasure."""

from __future__ import annotations

import pytest
from sqlalchemy import ForeignKeyConstraint, Table, UniqueConstraint

from models.tables import jobs, shared  # noqa: F401 -- their tables are in the metadata then
from models.tables.base import Base

ONE_A_GROUP = "a group has one row at most, which its unique group_id finds"
FEW_A_GROUP = "a group has a few rows, which another index on group_id finds"

UNINDEXED = {
    "contributions.member_id": ONE_A_GROUP,
    "contributions.calibration_id": ONE_A_GROUP,
    "pool_uses.member_id": ONE_A_GROUP,
    "taken_summaries.member_id": FEW_A_GROUP,
    "adoptions.member_id": FEW_A_GROUP,
    "adoptions.undone_by_id": FEW_A_GROUP,
    "adoptions.calibration_id": FEW_A_GROUP,
    "activations.member_id": FEW_A_GROUP,
    "activations.calibration_id": FEW_A_GROUP,
    "job_pieces.group_id": "groups stay; pieces are found by their job",
    "job_pieces.job_id": "a job's pieces are found by their unique job_id and number",
}
"""References without an index that begins with them, and why."""

TABLES = Base.metadata.sorted_tables


def indexed(table: Table) -> list[list[str]]:
    """Return the columns of everything that finds rows of a table."""
    unique = [one for one in table.constraints if isinstance(one, UniqueConstraint)]
    return [[column.name for column in one.columns] for one in (*table.indexes, *unique)]


def references() -> list[tuple[str, Table, list[str]]]:
    """Return every reference as table.column, with its table and all its columns."""
    found = [
        (f"{table.name}.{one.column_keys[-1]}", table, list(one.column_keys))
        for table in TABLES
        for one in table.constraints
        if isinstance(one, ForeignKeyConstraint)
    ]
    return sorted(found, key=lambda one: one[0])


@pytest.mark.parametrize(("name", "table", "columns"), references(), ids=lambda one: str(one)[:40])
def test_a_reference_has_an_index_that_begins_with_it_or_a_reason(
    name: str, table: Table, columns: list[str]
) -> None:
    begins = any(set(one[: len(columns)]) == set(columns) for one in indexed(table))
    assert begins is not (name in UNINDEXED), (name, indexed(table))


def test_every_reason_is_about_a_reference_that_there_is() -> None:
    assert set(UNINDEXED) <= {name for name, _, _ in references()}
