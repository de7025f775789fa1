"""Groups, members, feet, yarns, designs, reports, calibrations and suggestions.

Names of constraints are written through `op.f`, which keeps them as they are here even if the
tables' naming convention ever changes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import sqlalchemy as sa
from alembic import op
from sqlalchemy.types import TypeEngine

revision = "0001"
down_revision = None

PEOPLE = ("people", "groups", "members", "tokens", "idempotency_keys")
SOCKS = ("feet", "yarns", "designs", "sizes")
EVIDENCE = ("calibrations", "activations", "suggestions", "reports")

ID = sa.String(32)
NAME = sa.String(80)
DIGEST = sa.String(64)
DATE = sa.Date()
MOMENT = sa.DateTime(timezone=True)
JSON = sa.JSON()
WHOLE = sa.Integer()
NUMBER: TypeEngine[float] = sa.Double()

DECREASES = ("slow_decrease_rounds", "medium_decrease_rounds", "fast_decrease_rounds")


def upgrade() -> None:
    _people_groups_members()
    _tokens()
    _idempotency_keys()
    _feet()
    _yarns_and_designs()
    _sizes()
    _calibrations_and_activations()
    _suggestions()
    _reports()


def downgrade() -> None:
    for table in reversed((*PEOPLE, *SOCKS, *EVIDENCE)):
        op.drop_table(table)


def _columns(kind: TypeEngine[Any], *names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, kind, nullable=False) for name in names]


def _optional(kind: TypeEngine[Any], *names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, kind, nullable=True) for name in names]


def _create(
    table: str,
    *columns: sa.Column[Any],
    unique: Sequence[Sequence[str]] = (),
    references: Mapping[str, str] | None = None,
    checks: Mapping[str, str] | None = None,
) -> None:
    """Create a table; `references` maps columns to tables, `checks` names to rules."""
    op.create_table(
        table,
        *columns,
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
        *(sa.UniqueConstraint(*of, name=op.f(f"uq_{table}_{'_'.join(of)}")) for of in unique),
        *(_reference(table, column, to) for column, to in (references or {}).items()),
        *(
            sa.CheckConstraint(rule, name=op.f(f"ck_{table}_{name}"))
            for name, rule in (checks or {}).items()
        ),
    )


def _of_group(
    table: str,
    *columns: sa.Column[Any],
    unique: Sequence[Sequence[str]] = (),
    references: Mapping[str, str] | None = None,
    checks: Mapping[str, str] | None = None,
) -> None:
    """Create a table of rows that belong to a group and can be referred to within it."""
    _create(
        table,
        *_columns(ID, "id", "group_id"),
        *columns,
        *_columns(MOMENT, "created_at"),
        unique=(("group_id", "id"), *unique),
        references={"group_id": "groups", **(references or {})},
        checks=checks,
    )


def _reference(table: str, column: str, to: str) -> sa.ForeignKeyConstraint:
    """Return a reference, which carries the group along where the other table has one."""
    if to in {"people", "groups"}:
        return sa.ForeignKeyConstraint([column], [f"{to}.id"], name=op.f(f"fk_{table}_{column}"))
    return sa.ForeignKeyConstraint(
        ["group_id", column],
        [f"{to}.group_id", f"{to}.id"],
        name=op.f(f"fk_{table}_group_id_{column}"),
    )


def _index(table: str, *columns: str) -> None:
    op.create_index(op.f(f"ix_{table}_{'_'.join(columns)}"), table, list(columns))


def _within(low: int, high: int, *names: str) -> dict[str, str]:
    return {name: f"{name} BETWEEN {low} AND {high}" for name in names}


def _people_groups_members() -> None:
    _create("people", *_columns(ID, "id"), *_columns(MOMENT, "created_at"))
    _create(
        "groups",
        *_columns(ID, "id"),
        *_columns(NAME, "name"),
        *_columns(WHOLE, "version"),
        *_columns(MOMENT, "created_at"),
    )
    _create(
        "members",
        *_columns(ID, "id", "group_id"),
        *_optional(ID, "person_id"),
        *_columns(NAME, "name"),
        *_columns(sa.String(20), "role"),
        *_columns(MOMENT, "joined_at"),
        unique=[["group_id", "id"], ["group_id", "name"], ["group_id", "person_id"]],
        references={"group_id": "groups", "person_id": "people"},
        checks={"role": "role IN ('knitter', 'designer', 'steward')"},
    )


def _tokens() -> None:
    _create(
        "tokens",
        *_columns(ID, "id", "person_id"),
        *_columns(DIGEST, "digest"),
        *_columns(NAME, "label"),
        *_columns(MOMENT, "created_at"),
        *_optional(MOMENT, "expires_at", "revoked_at"),
        unique=[["digest"]],
        references={"person_id": "people"},
    )
    _index("tokens", "person_id")


def _idempotency_keys() -> None:
    _create(
        "idempotency_keys",
        *_columns(ID, "id", "person_id"),
        *_columns(sa.String(255), "key"),
        *_columns(DIGEST, "request_digest"),
        *_columns(WHOLE, "status"),
        *_optional(sa.String(500), "location"),
        *_optional(sa.String(100), "etag"),
        *_columns(sa.String(), "body"),
        *_columns(MOMENT, "created_at"),
        unique=[["person_id", "key"]],
        references={"person_id": "people"},
    )
    _index("idempotency_keys", "location")


def _feet() -> None:
    _of_group(
        "feet",
        *_columns(ID, "member_id"),
        *_optional(NAME, "label"),
        *_columns(NUMBER, "foot_length_mm", "foot_circumference_mm"),
        *_optional(NUMBER, "heel_diagonal_mm", "ankle_circumference_mm"),
        *_optional(DATE, "measured_on"),
        references={"member_id": "members"},
        checks={
            **_within(60, 400, "foot_length_mm", "foot_circumference_mm"),
            **_within(80, 520, "heel_diagonal_mm"),
            **_within(60, 400, "ankle_circumference_mm"),
        },
    )
    _index("feet", "group_id", "member_id")


def _yarns_and_designs() -> None:
    _of_group(
        "yarns",
        *_columns(NAME, "name"),
        *_columns(WHOLE, "yarn_weight"),
        *_optional(NUMBER, "metres_per_100g"),
        unique=[["group_id", "name"]],
        checks={"metres_per_100g": "metres_per_100g > 0", **_within(0, 7, "yarn_weight")},
    )
    _of_group(
        "designs",
        *_columns(NAME, "name"),
        *_columns(WHOLE, "version"),
        unique=[["group_id", "name"]],
    )


def _sizes() -> None:
    _of_group(
        "sizes",
        *_columns(ID, "design_id"),
        *_columns(sa.String(40), "label"),
        *_optional(NUMBER, "foot_length_low_mm", "foot_length_high_mm"),
        *_optional(NUMBER, "foot_circumference_low_mm", "foot_circumference_high_mm"),
        *_optional(WHOLE, "yarn_weight"),
        *_optional(NUMBER, "stitches_per_10cm", "rounds_per_10cm"),
        *_optional(WHOLE, "heel_stitches", "closing_stitches"),
        *_optional(WHOLE, "plain_rounds", "slow_decrease_rounds", "medium_decrease_rounds"),
        *_columns(WHOLE, "version"),
        unique=[["group_id", "design_id", "label"]],
        references={"design_id": "designs"},
    )


def _calibrations_and_activations() -> None:
    _of_group(
        "calibrations",
        *_columns(WHOLE, "number", "reports", "reporters"),
        *_columns(DIGEST, "fingerprint"),
        *_columns(JSON, "artefact"),
        unique=[["group_id", "number"]],
    )
    _create(
        "activations",
        *_columns(WHOLE, "id"),
        *_columns(ID, "group_id", "calibration_id"),
        *_columns(MOMENT, "created_at"),
        references={"group_id": "groups", "calibration_id": "calibrations"},
    )
    _index("activations", "group_id", "id")


def _suggestions() -> None:
    _of_group(
        "suggestions",
        *_columns(ID, "member_id"),
        *_optional(ID, "calibration_id"),
        *_columns(JSON, "question", "answer"),
        references={"member_id": "members", "calibration_id": "calibrations"},
    )
    _index("suggestions", "group_id", "member_id")


def _reports() -> None:
    required = {"member_id": "members", "foot_id": "feet"}
    named = {"yarn": "yarns", "design": "designs", "size": "sizes", "suggestion": "suggestions"}
    optional = {f"{name}_id": table for name, table in named.items()}
    _of_group(
        "reports",
        *_columns(ID, *required),
        *_optional(ID, *optional),
        *_columns(WHOLE, "yarn_weight"),
        *_columns(NUMBER, "stitches_per_10cm", "rounds_per_10cm"),
        *_columns(WHOLE, "heel_stitches", "decreases_per_round"),
        *_columns(WHOLE, "plain_rounds", *DECREASES, "fit_score"),
        *_optional(DATE, "knitted_on"),
        *_optional(WHOLE, "times_washed", "times_worn"),
        *_optional(sa.String(2000), "notes"),
        *_columns(WHOLE, "version"),
        *_columns(MOMENT, "updated_at"),
        references={**required, **optional},
        checks={
            **_within(0, 7, "yarn_weight"),
            **_within(4, 80, "stitches_per_10cm"),
            **_within(4, 120, "rounds_per_10cm"),
            **_within(8, 400, "heel_stitches"),
            **_within(2, 16, "decreases_per_round"),
            **_within(0, 200, "plain_rounds", *DECREASES),
            **_within(-2, 2, "fit_score"),
            **_within(0, 10_000, "times_washed", "times_worn"),
        },
    )
    _index("reports", "group_id", "member_id")
    _index("reports", "group_id", "foot_id")
