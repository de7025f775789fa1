"""Doubtful reports: what can become of one, and why it may be doubted.

A doubtful report is held back, never dropped: a steward looks at it and lets it count or not, and
every step is kept.
"""

from __future__ import annotations

from enum import StrEnum


class Status(StrEnum):
    """Whether a report counts."""

    COUNTED = "counted"
    HELD = "held"
    ACCEPTED = "accepted"
    REJECTED = "rejected"


COUNTING = (Status.COUNTED, Status.ACCEPTED)
"""What calibrations learn from. An accepted report was looked at and is not doubted again."""

STEPS: dict[Status, frozenset[Status]] = {
    Status.COUNTED: frozenset({Status.HELD}),
    Status.HELD: frozenset({Status.COUNTED, Status.ACCEPTED, Status.REJECTED}),
    Status.ACCEPTED: frozenset({Status.HELD, Status.REJECTED}),
    Status.REJECTED: frozenset({Status.HELD, Status.ACCEPTED}),
}
"""From each status to those that may follow it; a correction lets a held report count again."""


class Reason(StrEnum):
    """Why a report is doubted."""

    IMPLAUSIBLE_FOOT = "implausible_foot"
    COPY = "copy"
    FLIPPED_SIGNS = "flipped_signs"
    FLOODING = "flooding"


REASONS: dict[Reason, str] = {
    Reason.IMPLAUSIBLE_FOOT: "The measurements of this foot do not belong together.",
    Reason.COPY: "Another report says exactly the same.",
    Reason.FLIPPED_SIGNS: "This reporter's scores look as if given the wrong way round.",
    Reason.FLOODING: "Far more reports from this reporter in one day than anybody knits.",
}
"""What a steward reads of each reason."""
