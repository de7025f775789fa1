"""Who may do what: one table, from which checks, schemas and documentation follow."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum


class Role(StrEnum):
    """What a member is in a group."""

    KNITTER = "knitter"
    DESIGNER = "designer"
    STEWARD = "steward"


class Scope(StrEnum):
    """What a token is for; it narrows what the role of its person allows and never widens it."""

    READ = "read"
    REPORT = "report"
    DESIGN = "design"
    STEWARD = "steward"


class Action(StrEnum):
    """What can be done, in words that a refusal can use."""

    READ_GROUP = "read the group and its calibrations"
    READ_OWN = "read own feet, reports and suggestions"
    RECORD = "record and correct own feet and reports"
    ASK = "ask for a suggestion"
    RECORD_FOR_OTHERS = "record, read and correct for reporters who have not joined"
    REVIEW = "review held reports"
    CALIBRATE = "calibrate and activate"
    KEEP_DESIGNS = "keep designs and their defaults"
    SHARE = "share with the wider pool and use it"
    INVITE = "invite knitters"
    KEEP_MEMBERS = "read all members and remove members"
    APPOINT = "change roles, invite designers and stewards, hand over reporters' places"
    RESET_PASSWORDS = "reset passwords"
    LEAVE = "leave the group"
    LIST_GROUPS = "list own groups"
    FOUND = "found a group"
    JOIN = "accept an invitation"
    KEEP_ACCOUNT = "keep own tokens, username and password"
    TAKE_OUT = "take out everything about oneself"
    ERASE = "erase everything about oneself"
    ERASE_REPORTERS = "erase reporters who have not joined"


@dataclass(frozen=True)
class Rule:
    """Which roles may do something, and the scopes that a token needs for it, all of them."""

    roles: frozenset[Role]
    scopes: frozenset[Scope]


EVERY_SCOPE = frozenset(Scope)

_EVERYBODY = frozenset(Role)
_DESIGNERS = frozenset({Role.DESIGNER, Role.STEWARD})
_STEWARDS = frozenset({Role.STEWARD})

ALLOWED: dict[Action, Rule] = {
    Action.READ_GROUP: Rule(_EVERYBODY, frozenset({Scope.READ})),
    Action.READ_OWN: Rule(_EVERYBODY, frozenset({Scope.READ})),
    Action.RECORD: Rule(_EVERYBODY, frozenset({Scope.REPORT})),
    Action.ASK: Rule(_EVERYBODY, frozenset({Scope.REPORT})),
    Action.RECORD_FOR_OTHERS: Rule(_STEWARDS, frozenset({Scope.STEWARD})),
    Action.REVIEW: Rule(_STEWARDS, frozenset({Scope.STEWARD})),
    Action.CALIBRATE: Rule(_DESIGNERS, frozenset({Scope.DESIGN})),
    Action.KEEP_DESIGNS: Rule(_DESIGNERS, frozenset({Scope.READ, Scope.DESIGN})),
    Action.SHARE: Rule(_STEWARDS, frozenset({Scope.READ, Scope.STEWARD})),
    Action.INVITE: Rule(_STEWARDS, frozenset({Scope.STEWARD})),
    Action.KEEP_MEMBERS: Rule(_STEWARDS, frozenset({Scope.STEWARD})),
    Action.APPOINT: Rule(_STEWARDS, EVERY_SCOPE),
    Action.RESET_PASSWORDS: Rule(_STEWARDS, EVERY_SCOPE),
    Action.LEAVE: Rule(_EVERYBODY, EVERY_SCOPE),
    Action.LIST_GROUPS: Rule(_EVERYBODY, frozenset({Scope.READ})),
    Action.FOUND: Rule(_EVERYBODY, EVERY_SCOPE),
    Action.JOIN: Rule(_EVERYBODY, EVERY_SCOPE),
    Action.KEEP_ACCOUNT: Rule(_EVERYBODY, EVERY_SCOPE),
    Action.TAKE_OUT: Rule(_EVERYBODY, EVERY_SCOPE),
    Action.ERASE: Rule(_EVERYBODY, EVERY_SCOPE),
    Action.ERASE_REPORTERS: Rule(_STEWARDS, EVERY_SCOPE),
}
"""What concerns somebody's whole account, and what gives others a role or a password, needs a token
of every scope, so that no token can make a stronger one or take its person out of a group."""


def may(role: Role, action: Action) -> bool:
    """Return whether the role allows the action."""
    return role in ALLOWED[action].roles


def covers(scopes: Collection[Scope], action: Action) -> bool:
    """Return whether a token of some scopes is good for the action."""
    return ALLOWED[action].scopes <= frozenset(scopes)


def in_order(scopes: Collection[Scope]) -> list[Scope]:
    """Return scopes each once, in the order of the enum."""
    return [scope for scope in Scope if scope in scopes]
