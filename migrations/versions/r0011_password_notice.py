"""When a password was replaced, until the next login has said so."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    op.add_column("accounts", sa.Column("notice_at", sa.DateTime(timezone=True)))


def downgrade() -> None:
    op.drop_column("accounts", "notice_at")
