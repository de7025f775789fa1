"""What was sent and what was acknowledged, against what the database holds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from threading import Lock

from faults.databases import execute

State = tuple[int, int] | None
"""How many reports carry a mark, and how often each was worn; None where there are none."""


@dataclass
class Ledger:
    """By mark (the notes of reports): the states that may be found, one where all is known."""

    possible: dict[str, frozenset[State]] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def sent(self, mark: str, state: State) -> None:
        """Note that a request was sent that leads to a state: it or the one before may be found."""
        with self._lock:
            self.possible[mark] = self.possible.get(mark, frozenset([None])) | {state}

    def acknowledged(self, mark: str, state: State) -> None:
        """Note that the service said it is so."""
        with self._lock:
            self.possible[mark] = frozenset([state])

    def open(self) -> list[str]:
        """Return the marks of what was sent and never answered."""
        return [mark for mark, states in self.possible.items() if len(states) > 1]

    def wrong(self, url: str) -> list[str]:
        """Return what the database holds that cannot be, and what it lacks."""
        found = held(url)
        return [
            f"{mark}: {found.get(mark)}, not one of {set(self.possible.get(mark, ()))}"
            for mark in self.possible.keys() | found.keys()
            if found.get(mark) not in self.possible.get(mark, frozenset())
        ]


def held(url: str) -> dict[str, State]:
    """Return the state of every mark in the database; mixed ones as a state that nobody expects."""
    rows = execute(
        url,
        "SELECT notes, count(*), min(coalesce(times_worn, 0)), max(coalesce(times_worn, 0)) "
        "FROM reports GROUP BY notes",
    )
    return {mark: (count, least if least == most else -1) for mark, count, least, most in rows}


_BROKEN = {
    "feet without a report": "SELECT count(*) FROM feet WHERE NOT EXISTS "
    "(SELECT 1 FROM reports WHERE group_id = feet.group_id AND foot_id = feet.id)",
    "answers kept for a report that is not there": "SELECT count(*) FROM idempotency_keys WHERE "
    "NOT EXISTS (SELECT 1 FROM reports WHERE id = substr(location, length(location) - 31))",
}


def torn(url: str) -> Iterable[str]:
    """Yield what is there in part, and what the database says against itself."""
    for what, query in _BROKEN.items():
        [(count,)] = execute(url, query)
        if count:
            yield f"{count} {what}"
    if url.startswith("sqlite"):
        if execute(url, "PRAGMA integrity_check") != [("ok",)]:
            yield "integrity_check"
        yield from map(str, execute(url, "PRAGMA foreign_key_check"))
