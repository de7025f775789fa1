"""For how many, and for how long, invitations and tokens may be made out."""

from __future__ import annotations

from models.domain.quantities import Quantity

USUAL_DAYS = 7
USES = Quantity("uses", 1, 100, "people", "How many people may join with it.", integer=True)
DAYS = Quantity("days", 1, 90, "days", "How long it can be accepted.", integer=True)
TOKEN_DAYS = Quantity(
    "days",
    1,
    3650,
    "days",
    "How long the token is good; until it is revoked where this is left out.",
    integer=True,
    required=False,
)
