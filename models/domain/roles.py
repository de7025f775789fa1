"""Who may do what in a group: one table."""

from __future__ import annotations

from enum import StrEnum


class Role(StrEnum):
    """What a member is in a group."""

    KNITTER = "knitter"
    DESIGNER = "designer"
    STEWARD = "steward"


class Action(StrEnum):
    """What can be done in a group."""

    READ_GROUP = "read the group"
    RECORD = "record own feet and reports"
    RECORD_FOR_OTHERS = "record feet and reports of other reporters"
    READ_EVERY_REPORT = "read every report with its foot"
    REVIEW = "review held reports"
    ASK = "ask for a suggestion"
    CALIBRATE = "calibrate and activate"
    KEEP_DESIGNS = "keep designs and their defaults"


_EVERYBODY = frozenset(Role)

ALLOWED: dict[Action, frozenset[Role]] = {
    Action.READ_GROUP: _EVERYBODY,
    Action.RECORD: _EVERYBODY,
    Action.RECORD_FOR_OTHERS: frozenset({Role.STEWARD}),
    Action.READ_EVERY_REPORT: frozenset({Role.STEWARD}),
    Action.REVIEW: frozenset({Role.STEWARD}),
    Action.ASK: _EVERYBODY,
    Action.CALIBRATE: frozenset({Role.DESIGNER, Role.STEWARD}),
    Action.KEEP_DESIGNS: frozenset({Role.DESIGNER, Role.STEWARD}),
}


def may(role: Role, action: Action) -> bool:
    """Return whether the role allows the action."""
    return role in ALLOWED[action]
