"""The order and limits of a design's sizes, and what became of calibrated defaults.

New columns may be empty or have a default, so that code of the version before goes on working on
this schema.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"

ID = sa.String(32)
MOMENT = sa.DateTime(timezone=True)
LIMITS = {
    "foot_length_low_mm": (60, 400),
    "foot_length_high_mm": (60, 400),
    "foot_circumference_low_mm": (60, 400),
    "foot_circumference_high_mm": (60, 400),
    "yarn_weight": (0, 7),
    "stitches_per_10cm": (4, 80),
    "rounds_per_10cm": (4, 120),
    "heel_stitches": (8, 400),
    "closing_stitches": (2, 200),
    "medium_decrease_rounds": (0, 200),
    "plain_rounds": (0, 200),
    "slow_decrease_rounds": (0, 200),
    "decreases_per_round": (2, 16),
}
REFERENCES = {
    "design_id": "designs",
    "member_id": "members",
    "undone_by_id": "members",
    "calibration_id": "calibrations",
}


def upgrade() -> None:
    with op.batch_alter_table("sizes") as batch:
        batch.add_column(sa.Column("position", sa.Integer(), nullable=False, server_default="0"))
        batch.add_column(sa.Column("decreases_per_round", sa.Integer(), nullable=True))
        for name, (low, high) in LIMITS.items():
            batch.create_check_constraint(
                op.f(f"ck_sizes_{name}"), f"{name} BETWEEN {low} AND {high}"
            )
    _adoptions()


def downgrade() -> None:
    op.drop_table("adoptions")
    with op.batch_alter_table("sizes") as batch:
        for name in LIMITS:
            batch.drop_constraint(op.f(f"ck_sizes_{name}"), type_="check")
        batch.drop_column("decreases_per_round")
        batch.drop_column("position")


def _adoptions() -> None:
    op.create_table(
        "adoptions",
        sa.Column("id", ID, nullable=False),
        sa.Column("group_id", ID, nullable=False),
        sa.Column("design_id", ID, nullable=False),
        sa.Column("member_id", ID, nullable=True),
        sa.Column("calibration_id", ID, nullable=True),
        sa.Column("changes", sa.JSON(), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("undone_at", MOMENT, nullable=True),
        sa.Column("undone_by_id", ID, nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_adoptions")),
        sa.UniqueConstraint("group_id", "id", name=op.f("uq_adoptions_group_id_id")),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name=op.f("fk_adoptions_group_id")),
        *(
            sa.ForeignKeyConstraint(
                ["group_id", column],
                [f"{table}.group_id", f"{table}.id"],
                name=op.f(f"fk_adoptions_group_id_{column}"),
            )
            for column, table in REFERENCES.items()
        ),
    )
    op.create_index(op.f("ix_adoptions_group_id_design_id"), "adoptions", ["group_id", "design_id"])
