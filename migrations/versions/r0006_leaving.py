"""What reports were consented to, which people were erased, and what had been shown with them.

New columns may be empty, so that code of the version before goes on working on this schema.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"

ID = sa.String(32)
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.add_column("reports", sa.Column("consent_version", sa.Integer(), nullable=True))
    op.create_table(
        "erasures",
        sa.Column("id", ID, nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_erasures")),
        sa.UniqueConstraint("digest", name=op.f("uq_erasures_digest")),
    )
    op.create_table(
        "shown_figures",
        sa.Column("id", ID, nullable=False),
        sa.Column("group_id", ID, nullable=False),
        sa.Column("people", sa.JSON(), nullable=False),
        sa.Column("erased", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shown_figures")),
        sa.ForeignKeyConstraint(
            ["group_id"], ["groups.id"], name=op.f("fk_shown_figures_group_id")
        ),
    )
    op.create_index(op.f("ix_shown_figures_group_id"), "shown_figures", ["group_id"])


def downgrade() -> None:
    op.drop_table("shown_figures")
    op.drop_table("erasures")
    with op.batch_alter_table("reports") as batch:
        batch.drop_column("consent_version")
