"""What somebody agrees to on joining or founding a group; a change of meaning is a new version."""

from __future__ import annotations

from models.domain.errors import Fault, Invalid

VERSION = 3

TEXT = (
    "My reports and the measurements in them are pooled with those of the group, and calibrations "
    "learn from them.",
    "Nobody but me sees my single measurements with my name, except a steward who reviews a report "
    "that was held back, and whoever keeps the database.",
    "No figure that rests on fewer than 10 people is shown. A suggestion may rest on fewer; it "
    "says so. Whoever asks before and after a calibration can guess from the difference how socks "
    "fitted that were reported in between: the fewer people reported, the better the guess.",
    "A steward of the group may share what 50 people or more have taught it with other groups: as "
    "rounded coefficients, never as reports. What others took over before stays with them.",
    "I can leave the group at any time. What I reported stays in the pool until it is erased.",
)


def require_agreed(version: int) -> None:
    """Raise `Invalid` where the version agreed to is not that of the text."""
    if version != VERSION:
        wanted = f"it must be {VERSION}: read GET /v1/consent and agree to that text"
        raise Invalid([Fault("consent_version", version, wanted)])
