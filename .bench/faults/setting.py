"""Where an experiment takes place, and how much of it is wanted."""

from __future__ import annotations

import random
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Setting:
    """An upgraded database, a folder to write in, and how long a run may be."""

    url: str
    folder: Path
    seed: int = 0
    short: bool = False
    times: int | None = None

    def draw(self, name: str) -> random.Random:
        """Return a source of chance of its own for a part of the experiment."""
        return random.Random(f"{self.seed} {name}")  # noqa: S311 -- nothing here is secret

    def amount(self, full: int, short: int) -> int:
        """Return how often something is done."""
        return self.times or (short if self.short else full)
