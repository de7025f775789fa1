"""What may be seen of a heel beside its fit score: where it pulls, slides, bags or has holes.

New columns may be empty, so that code of the version before goes on working on this schema.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"

SYMPTOMS = (
    "pulls_at_instep",
    "slides_down",
    "bags_under_heel",
    "bags_behind_heel",
    "holes_at_corners",
    "worn_through",
)


def upgrade() -> None:
    with op.batch_alter_table("reports") as batch:
        for name in SYMPTOMS:
            batch.add_column(sa.Column(name, sa.Integer(), nullable=True))
            batch.create_check_constraint(op.f(f"ck_reports_{name}"), f"{name} BETWEEN 0 AND 1")


def downgrade() -> None:
    with op.batch_alter_table("reports") as batch:
        for name in SYMPTOMS:
            batch.drop_constraint(op.f(f"ck_reports_{name}"), type_="check")
            batch.drop_column(name)
