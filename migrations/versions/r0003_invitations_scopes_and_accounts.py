"""Invitations, scoped tokens, accounts with sessions, and whose figures a calibration may show.

What was made before goes on as it was: tokens are good for everything, members are in their groups,
and calibrations of 10 people or more show their figures.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

ID = sa.String(32)
DIGEST = sa.String(64)
MOMENT = sa.DateTime(timezone=True)
ROLES = "role IN ('knitter', 'designer', 'steward')"
EVERY_SCOPE = "read report design steward"
NEW_TABLES = ("password_resets", "login_sessions", "accounts", "invitations")


def upgrade() -> None:
    _members()
    _tokens()
    _calibrations()
    _invitations()
    _accounts()
    _of_a_person("login_sessions", _required("expires_at", MOMENT))
    _of_a_person(
        "password_resets",
        sa.Column("issuer_id", ID, nullable=True),
        _required("expires_at", MOMENT),
        sa.Column("used_at", MOMENT, nullable=True),
        sa.ForeignKeyConstraint(
            ["issuer_id"], ["people.id"], name=op.f("fk_password_resets_issuer_id")
        ),
    )


def downgrade() -> None:
    for table in NEW_TABLES:
        op.drop_table(table)
    _drop("calibrations", "published", "people")
    _drop("tokens", "last_used_at", "scopes")
    _drop("members", "version", "left_at", "consent_version")


def _drop(table: str, *columns: str) -> None:
    with op.batch_alter_table(table) as batch:
        for column in columns:
            batch.drop_column(column)


def _required(name: str, kind: Any, **options: Any) -> sa.Column[Any]:
    return sa.Column(name, kind, nullable=False, **options)


def _members() -> None:
    op.add_column("members", sa.Column("consent_version", sa.Integer(), nullable=True))
    op.add_column("members", sa.Column("left_at", MOMENT, nullable=True))
    op.add_column("members", _required("version", sa.Integer(), server_default="1"))


def _tokens() -> None:
    op.add_column("tokens", _required("scopes", sa.String(100), server_default=EVERY_SCOPE))
    op.add_column("tokens", sa.Column("last_used_at", MOMENT, nullable=True))


def _calibrations() -> None:
    op.add_column("calibrations", sa.Column("people", sa.JSON(), nullable=True))
    op.add_column("calibrations", _required("published", sa.Boolean(), server_default=sa.false()))
    op.execute("UPDATE calibrations SET published = (1 = 1) WHERE reporters = 0 OR reporters >= 10")


def _invitations() -> None:
    op.create_table(
        "invitations",
        _required("id", ID),
        _required("group_id", ID),
        sa.Column("member_id", ID, nullable=True),
        sa.Column("reporter_id", ID, nullable=True),
        _required("digest", DIGEST),
        _required("role", sa.String(20)),
        _required("uses", sa.Integer()),
        _required("uses_left", sa.Integer()),
        _required("created_at", MOMENT),
        _required("expires_at", MOMENT),
        sa.Column("revoked_at", MOMENT, nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_invitations")),
        sa.UniqueConstraint("group_id", "id", name=op.f("uq_invitations_group_id_id")),
        sa.UniqueConstraint("digest", name=op.f("uq_invitations_digest")),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name=op.f("fk_invitations_group_id")),
        *(
            sa.ForeignKeyConstraint(
                ["group_id", column],
                ["members.group_id", "members.id"],
                name=op.f(f"fk_invitations_group_id_{column}"),
            )
            for column in ("member_id", "reporter_id")
        ),
        sa.CheckConstraint(ROLES, name=op.f("ck_invitations_role")),
        sa.CheckConstraint("uses_left BETWEEN 0 AND uses", name=op.f("ck_invitations_uses_left")),
    )


def _accounts() -> None:
    op.create_table(
        "accounts",
        _required("id", ID),
        _required("person_id", ID),
        _required("username", sa.String(40)),
        _required("password_hash", sa.String(200)),
        _required("created_at", MOMENT),
        _required("changed_at", MOMENT),
        sa.Column("reset_at", MOMENT, nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_accounts")),
        sa.UniqueConstraint("person_id", name=op.f("uq_accounts_person_id")),
        sa.UniqueConstraint("username", name=op.f("uq_accounts_username")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_accounts_person_id")),
    )


def _of_a_person(table: str, *more: Any) -> None:
    """Create a table of secrets of people, each kept as a digest."""
    op.create_table(
        table,
        _required("id", ID),
        _required("person_id", ID),
        _required("digest", DIGEST),
        _required("created_at", MOMENT),
        *more,
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
        sa.UniqueConstraint("digest", name=op.f(f"uq_{table}_digest")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f(f"fk_{table}_person_id")),
    )
    op.create_index(op.f(f"ix_{table}_person_id"), table, ["person_id"])
