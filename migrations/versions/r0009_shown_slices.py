"""Whom slices rested on that were shown before somebody in them was erased."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"

ID = sa.String(32)


def upgrade() -> None:
    op.create_table(
        "shown_slices",
        sa.Column("id", ID, nullable=False),
        sa.Column("group_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("people", sa.JSON(), nullable=False),
        sa.Column("erased", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shown_slices")),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name=op.f("fk_shown_slices_group_id")),
    )
    op.create_index(op.f("ix_shown_slices_group_id"), "shown_slices", ["group_id"])


def downgrade() -> None:
    op.drop_table("shown_slices")
