"""Results that take long, kept for the next who asks; and an index that tells when they changed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"

VERSIONS = "ix_reports_group_id_version"


def upgrade() -> None:
    op.create_table(
        "kept_results",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("group_id", sa.String(32), nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("key", sa.String(64), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kept_results")),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name=op.f("fk_kept_results_group_id")),
        sa.UniqueConstraint(
            "group_id", "kind", "key", name=op.f("uq_kept_results_group_id_kind_key")
        ),
    )
    op.create_index(op.f(VERSIONS), "reports", ["group_id", "version"], if_not_exists=True)


def downgrade() -> None:
    op.drop_index(op.f(VERSIONS), "reports")
    op.drop_table("kept_results")
