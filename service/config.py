"""Settings: every one is an environment variable named HEELDEPTH_..., read and checked at start."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path

from platformdirs import user_data_path

from models.domain.errors import Fault, Invalid

PREFIX = "HEELDEPTH_"


def data_folder() -> Path:
    """Return the user's folder for data of this project, made where it was missing."""
    return user_data_path("heeldepth", appauthor=False, ensure_exists=True)


@dataclass(frozen=True)
class Settings:
    """What can be set.

    database_url
        SQLAlchemy URL; a SQLite file in the user's data folder when unset.
    group_creation
        `open`: anybody who reaches the service may found a group; `closed`: only the command line.
    most_body_bytes
        Longest request body that is read.
    host, port
        Where `heeldepth serve` listens.
    threads
        How many requests `heeldepth serve` answers at once.
    """

    database_url: str
    group_creation: str = "open"
    most_body_bytes: int = 1_000_000
    host: str = "127.0.0.1"
    port: int = 8080
    threads: int = 8

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] = os.environ) -> Settings:
        """Return the settings of this process.

        Raises
        ------
        Invalid
            Where a variable has a value that cannot be, or a name that no setting has.

        """
        given = {
            name.removeprefix(PREFIX).lower(): value
            for name, value in environment.items()
            if name.startswith(PREFIX) and not name.startswith(f"{PREFIX}TEST_")
        }
        known = {field.name: field.type for field in fields(cls)}
        faults = [
            Fault(PREFIX + name.upper(), value, f"settings are {', '.join(sorted(known))}")
            for name, value in given.items()
            if name not in known
        ]
        values: dict[str, str | int] = {}
        for name in given.keys() & known.keys():
            try:
                values[name] = int(given[name]) if known[name] == "int" else given[name]
            except ValueError:
                faults.append(Fault(PREFIX + name.upper(), given[name], "a whole number"))
        if values.get("group_creation", "open") not in ("open", "closed"):
            faults.append(Fault(f"{PREFIX}GROUP_CREATION", given["group_creation"], "open, closed"))
        if faults:
            raise Invalid(faults)
        values.setdefault("database_url", f"sqlite:///{data_folder() / 'heeldepth.db'}")
        return cls(**values)  # type: ignore[arg-type]
