"""Reports that are held back, every review of one, and how calibrations were judged.

What was recorded before counts, as it did. The new columns may be empty or have a default, so that
code of the version before goes on working on this schema.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

ID = sa.String(32)
TEXT = sa.String(500)
STATUSES = "status IN ('counted', 'held', 'accepted', 'rejected')"
REASONS = "reason IN ('implausible_foot', 'copy', 'flipped_signs', 'flooding')"


def upgrade() -> None:
    _reports()
    _reviews()
    _calibrations_and_activations()


def downgrade() -> None:
    op.drop_table("reviews")
    with op.batch_alter_table("activations") as batch:
        batch.drop_constraint(op.f("fk_activations_group_id_member_id"), type_="foreignkey")
        batch.drop_column("reason")
        batch.drop_column("member_id")
    op.drop_column("calibrations", "diagnostics")
    op.drop_index(op.f("ix_reports_group_id_status"), "reports")
    with op.batch_alter_table("reports") as batch:
        batch.drop_constraint(op.f("ck_reports_status"), type_="check")
        batch.drop_column("status")


def _reports() -> None:
    with op.batch_alter_table("reports") as batch:
        batch.add_column(
            sa.Column("status", sa.String(20), nullable=False, server_default="counted")
        )
        batch.create_check_constraint(op.f("ck_reports_status"), STATUSES)
    op.create_index(op.f("ix_reports_group_id_status"), "reports", ["group_id", "status"])


def _reviews() -> None:
    op.create_table(
        "reviews",
        sa.Column("id", ID, nullable=False),
        sa.Column("group_id", ID, nullable=False),
        sa.Column("report_id", ID, nullable=False),
        sa.Column("member_id", ID, nullable=True),
        sa.Column("status", sa.String(20), nullable=False),
        sa.Column("reason", sa.String(40), nullable=True),
        sa.Column("text", TEXT, nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reviews")),
        sa.UniqueConstraint("group_id", "id", name=op.f("uq_reviews_group_id_id")),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name=op.f("fk_reviews_group_id")),
        *(
            sa.ForeignKeyConstraint(
                ["group_id", f"{one}_id"],
                [f"{one}s.group_id", f"{one}s.id"],
                name=op.f(f"fk_reviews_group_id_{one}_id"),
            )
            for one in ("report", "member")
        ),
        sa.CheckConstraint(STATUSES, name=op.f("ck_reviews_status")),
        sa.CheckConstraint(REASONS, name=op.f("ck_reviews_reason")),
    )
    op.create_index(op.f("ix_reviews_group_id_report_id"), "reviews", ["group_id", "report_id"])


def _calibrations_and_activations() -> None:
    op.add_column("calibrations", sa.Column("diagnostics", sa.JSON(), nullable=True))
    with op.batch_alter_table("activations") as batch:
        batch.add_column(sa.Column("member_id", ID, nullable=True))
        batch.add_column(sa.Column("reason", TEXT, nullable=True))
        batch.create_foreign_key(
            op.f("fk_activations_group_id_member_id"),
            "members",
            ["group_id", "member_id"],
            ["group_id", "id"],
        )
