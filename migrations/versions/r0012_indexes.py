"""Indexes for one's own lists, for what follows a suggestion, and for references that are erased.

On a large PostgreSQL they can be built beforehand, under these names, by CREATE INDEX CONCURRENTLY.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"

BY_AGE = {
    "feet": ("member_id",),
    "reports": ("member_id", "status"),
    "suggestions": ("member_id",),
}
"""Columns by which rows of a group are listed, oldest first."""

IF_NAMED = {
    "reports": ("yarn_id", "design_id", "size_id", "suggestion_id"),
    "reviews": ("member_id",),
    "suggestions": ("calibration_id",),
    "invitations": ("member_id", "reporter_id"),
}
PLAIN = {"members": "person_id", "password_resets": "issuer_id"}


def upgrade() -> None:
    for table, listed_by in BY_AGE.items():
        for column in listed_by:
            name, columns = f"ix_{table}_group_id_{column}", ["group_id", column, "id"]
            op.create_index(op.f(f"{name}_id"), table, columns, if_not_exists=True)
            op.drop_index(op.f(name), table)
    for table, references in IF_NAMED.items():
        for column in references:
            named = sa.text(f"{column} IS NOT NULL")
            op.create_index(
                op.f(f"ix_{table}_group_id_{column}"),
                table,
                ["group_id", column],
                sqlite_where=named,
                postgresql_where=named,
                if_not_exists=True,
            )
    for table, column in PLAIN.items():
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column], if_not_exists=True)


def downgrade() -> None:
    for table, column in PLAIN.items():
        op.drop_index(op.f(f"ix_{table}_{column}"), table)
    for table, references in IF_NAMED.items():
        for column in references:
            op.drop_index(op.f(f"ix_{table}_group_id_{column}"), table)
    for table, listed_by in BY_AGE.items():
        for column in listed_by:
            name = f"ix_{table}_group_id_{column}"
            op.create_index(op.f(name), table, ["group_id", column])
            op.drop_index(op.f(f"{name}_id"), table)
