"""An index that finds somebody's old idempotency keys: every POST with a key forgets those."""

from __future__ import annotations

from alembic import op

revision = "0010"
down_revision = "0009"

NAME = "ix_idempotency_keys_person_id_created_at"


def upgrade() -> None:
    op.create_index(op.f(NAME), "idempotency_keys", ["person_id", "created_at"])


def downgrade() -> None:
    op.drop_index(op.f(NAME), "idempotency_keys")
