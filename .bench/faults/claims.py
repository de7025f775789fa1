"""What an experiment claims, and what it found."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Claim:
    """One thing that must hold, with the figure that was found."""

    what: str
    found: Any
    holds: bool

    def __str__(self) -> str:
        return f"| {self.what} | {self.found} | {'holds' if self.holds else 'BROKEN'} |"


def none(what: str, found: int | list[Any]) -> Claim:
    """Claim that there is nothing of a kind; the first few of what there is are shown."""
    if isinstance(found, int):
        return Claim(what, found, found == 0)
    shown = ", ".join(map(str, found[:3]))
    return Claim(what, f"{len(found)}: {shown}" if found else 0, not found)


def below(what: str, found: float, limit: float, unit: str) -> Claim:
    """Claim that a figure is below a limit."""
    return Claim(f"{what}, below {limit:g} {unit}", f"{found:.3g} {unit}", found < limit)


def progress(text: str) -> None:
    """Say how far a run has come."""
    print(text, file=sys.stderr, flush=True)
