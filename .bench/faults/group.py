"""An invented group, and what its members send."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from faults.client import Client
from faults.served import Served
from models.domain.consent import VERSION
from models.domain.report_columns import EXAMPLE
from models.domain.reports import SOCK as QUANTITIES

SOCK = {**{quantity.name: EXAMPLE[quantity.name] for quantity in QUANTITIES}, "fit_score": 0}
FOOT = {"foot_length_mm": 250, "foot_circumference_mm": 230, "heel_diagonal_mm": 315}
QUESTION = {
    "foot": FOOT,
    "yarn_weight": 1,
    "stitches_per_10cm": 30,
    "rounds_per_10cm": 42,
    "heel_stitches": 64,
    "closing_stitches": 16,
    "medium_decrease_rounds": 4,
}

FOUNDING = {"steward": "Invented steward", "consent_version": VERSION}


@dataclass(frozen=True)
class Group:
    """A group on a server, with its steward's token."""

    server: Served
    id: str
    token: str

    @property
    def path(self) -> str:
        """Where it is."""
        return f"/v1/groups/{self.id}"

    def client(self) -> Client:
        """Return a client of its own for the steward."""
        return self.server.client(self.token)


def found(server: Served, name: str = "Invented group") -> Group:
    """Found a group."""
    made = server.client().made("/v1/groups", FOUNDING | {"name": name})
    return Group(server, made["id"], made["token"])


def report(notes: str, **changed: Any) -> dict[str, Any]:
    """Return a report as it is sent, told apart from others by its notes."""
    return {"foot": FOOT, **SOCK, "notes": notes, **changed}


def csv(notes: str, rows: int) -> str:
    """Return a file of reports that differ in their feet, all with the same notes."""
    names = ("reporter", *FOOT, "ankle_circumference_mm", *SOCK, "notes")
    sock = ",".join(map(str, SOCK.values()))
    lines = (
        f"Invented {n % 40},{240 + n % 1000 / 50},{220 + n // 1000},315,,{sock},{notes}"
        for n in range(rows)
    )
    return "\n".join((",".join(names), *lines)) + "\n"
