"""Work in the background, with the files that go with it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"

ID = sa.String(32)
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.create_table(
        "jobs",
        sa.Column("id", ID, nullable=False),
        sa.Column("group_id", ID, nullable=False),
        sa.Column("member_id", ID, nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("scopes", sa.String(100), nullable=False),
        sa.Column("state", sa.String(20), nullable=False),
        sa.Column("asked", sa.JSON(), nullable=False),
        sa.Column("done", sa.Integer(), nullable=False),
        sa.Column("total", sa.Integer(), nullable=True),
        sa.Column("result", sa.JSON(), nullable=True),
        sa.Column("problem", sa.JSON(), nullable=True),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("started_at", MOMENT, nullable=True),
        sa.Column("heard_at", MOMENT, nullable=True),
        sa.Column("cancel_asked_at", MOMENT, nullable=True),
        sa.Column("ended_at", MOMENT, nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_jobs")),
        sa.UniqueConstraint("group_id", "id", name=op.f("uq_jobs_group_id_id")),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name=op.f("fk_jobs_group_id")),
        sa.ForeignKeyConstraint(
            ["group_id", "member_id"],
            ["members.group_id", "members.id"],
            name=op.f("fk_jobs_group_id_member_id"),
        ),
        sa.CheckConstraint(
            "state IN ('queued', 'running', 'done', 'failed', 'cancelled')",
            name=op.f("ck_jobs_state"),
        ),
    )
    op.create_index(op.f("ix_jobs_group_id_member_id"), "jobs", ["group_id", "member_id"])
    op.create_index(op.f("ix_jobs_state"), "jobs", ["state"])
    op.create_table(
        "job_pieces",
        sa.Column("id", ID, nullable=False),
        sa.Column("group_id", ID, nullable=False),
        sa.Column("job_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_pieces")),
        sa.UniqueConstraint("job_id", "number", name=op.f("uq_job_pieces_job_id_number")),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name=op.f("fk_job_pieces_group_id")),
        sa.ForeignKeyConstraint(
            ["group_id", "job_id"],
            ["jobs.group_id", "jobs.id"],
            name=op.f("fk_job_pieces_group_id_job_id"),
        ),
    )


def downgrade() -> None:
    op.drop_table("job_pieces")
    op.drop_table("jobs")
