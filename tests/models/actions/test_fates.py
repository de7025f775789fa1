"""Every reference to what may be erased has a fate."""

from __future__ import annotations

from sqlalchemy import ForeignKeyConstraint

from models.actions.fates import FATES, Fate, references
from models.tables.base import Base

TABLES = Base.metadata.tables
START = {"people", "members", "calibrations"}
"""The tables whose rows an erasure begins with."""


def erasable() -> set[str]:
    """Return the tables of which rows may go."""
    return START | {column.split(".")[0] for column, fate in FATES.items() if fate is Fate.DELETE}


def test_every_reference_to_what_may_be_erased_has_a_fate_and_nothing_else_has() -> None:
    found = {
        f"{table.name}.{constraint.column_keys[-1]}"
        for table in TABLES.values()
        for constraint in table.constraints
        if isinstance(constraint, ForeignKeyConstraint)
        and constraint.referred_table.name in erasable()
    }
    assert found == set(FATES)


def test_what_is_detached_may_be_empty() -> None:
    for table in TABLES.values():
        for column, _ in references(table, Fate.DETACH):
            assert column.nullable, str(column)


def test_no_other_column_holds_an_id_of_somebody() -> None:
    """Columns named like references that are none would be overlooked."""
    named = {
        f"{table.name}.{column.name}"
        for table in TABLES.values()
        for column in table.columns
        if column.name.endswith("_id") and not column.foreign_keys
    }
    assert named == set()
