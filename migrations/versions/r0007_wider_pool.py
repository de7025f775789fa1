"""What groups share of what they learned, and what they take from others."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"

ID = sa.String(32)


def upgrade() -> None:
    _table(
        "contributions",
        ["group_id"],
        sa.Column("calibration_id", ID, nullable=False),
        sa.Column("summary", sa.JSON(), nullable=False),
        _reference("contributions", "calibration_id", "calibrations"),
    )
    _table("pool_uses", ["group_id"])
    _table(
        "taken_summaries",
        ["group_id", "origin"],
        sa.Column("origin", ID, nullable=False),
        sa.Column("summary", sa.JSON(), nullable=False),
    )


def downgrade() -> None:
    for name in ("taken_summaries", "pool_uses", "contributions"):
        op.drop_table(name)


def _table(name: str, unique: list[str], *parts: sa.schema.SchemaItem) -> None:
    """Create a table of what a member did in a group."""
    op.create_table(
        name,
        sa.Column("id", ID, nullable=False),
        sa.Column("group_id", ID, nullable=False),
        sa.Column("member_id", ID, nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        *parts,
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{name}")),
        sa.UniqueConstraint(*unique, name=op.f(f"uq_{name}_{'_'.join(unique)}")),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name=op.f(f"fk_{name}_group_id")),
        _reference(name, "member_id", "members"),
    )


def _reference(name: str, column: str, table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        ["group_id", column],
        [f"{table}.group_id", f"{table}.id"],
        name=op.f(f"fk_{name}_group_id_{column}"),
    )
