"""Settings: every one is an environment variable named HEELDEPTH_..., read and checked at start."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from pathlib import Path

from platformdirs import user_data_path

from models.domain.errors import Fault, Invalid

PREFIX = "HEELDEPTH_"
IN_PROCESS, DATABASE = "in-process", "database"
"""Where jobs are queued, beside a Redis URL."""


def data_folder() -> Path:
    """Return the user's folder for data of this project, made where it was missing."""
    return user_data_path("heeldepth", appauthor=False, ensure_exists=True)


@dataclass(frozen=True)
class Settings:
    """What can be set.

    database_url
        SQLAlchemy URL; a SQLite file in the user's data folder when unset.
    replica_url
        SQLAlchemy URL of a copy that PostgreSQL keeps up to date; what only reads is answered from
        it. None when unset.
    group_creation
        `open`: anybody who reaches the service may found a group; `closed`: only the command line;
        `local`: open while only this machine is listened to and nothing passes requests on.
    most_body_bytes
        Longest request body that is read.
    host, port
        Where `heeldepth serve` listens.
    threads
        How many requests `heeldepth serve` answers at once.
    trusted_proxies
        How many proxies in a row stand before the service and may say whom they speak for.
    rate_limit_storage_url
        Where requests are counted: in memory, or in Redis where several processes serve.
    login_limit, login_total_limit
        How often one may try to log in: for a username from an address; and for a username from
        anywhere, or from an address for any.
    report_limit, joining_limit, founding_limit
        How often a person may report, groups may be joined from an address, and groups founded by
        a person.
    logs
        `plain`: warnings, a line each; `json`: these, every request and job, an object a line.
    metrics
        `open`: whoever reaches `/metrics` reads how many requests there were and how they went.
    most_upload_bytes
        Longest file that is taken in.
    import_limit, export_limit
        How many files a person may send, and have made.
    jobs
        Where work in the background is queued: `in-process`, where `serve` does it itself; or in
        the database or in Redis, where processes of `heeldepth work` do it.
    workers
        How many jobs a process works on at once.
    """

    database_url: str
    group_creation: str = "local"
    most_body_bytes: int = 1_000_000
    host: str = "127.0.0.1"
    port: int = 8080
    threads: int = 8
    trusted_proxies: int = 0
    rate_limit_storage_url: str = "memory://"
    login_limit: str = "10 per 5 minutes"
    login_total_limit: str = "60 per 5 minutes"
    report_limit: str = "3000 per hour"
    joining_limit: str = "60 per hour"
    founding_limit: str = "5 per day"
    logs: str = "plain"
    metrics: str = "closed"
    most_upload_bytes: int = 20_000_000
    import_limit: str = "60 per hour"
    export_limit: str = "60 per hour"
    jobs: str = IN_PROCESS
    workers: int = 2
    replica_url: str | None = None

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] = os.environ) -> Settings:
        """Return the settings of this process; an empty variable counts as unset.

        Raises
        ------
        Invalid
            Where a variable has a value that cannot be, or a name that no setting has.

        """
        given = {
            name.removeprefix(PREFIX).lower(): value
            for name, value in environment.items()
            if value and name.startswith(PREFIX) and not name.startswith(f"{PREFIX}TEST_")
        }
        if faults := [*_faults(given), *_fault_of_replica(given)]:
            raise Invalid(faults)
        values = {name: int(text) if name in _LIMITS else text for name, text in given.items()}
        values.setdefault("database_url", f"sqlite:///{data_folder() / 'heeldepth.db'}")
        return cls(**values)  # type: ignore[arg-type]


_LIMITS = {
    "most_body_bytes": (1_000, 1_000_000_000),
    "most_upload_bytes": (1_000, 1_000_000_000),
    "workers": (1, 100),
    "port": (1, 65_535),
    "threads": (1, 1_000),
    "trusted_proxies": (0, 10),
}
"""Settings that are whole numbers, with the least and the most that they can be."""

_CHOICES = {
    "group_creation": ("local", "open", "closed"),
    "logs": ("plain", "json"),
    "metrics": ("open", "closed"),
}
"""Settings that are one of a few words."""

_RATE = re.compile(r"[1-9][0-9]{0,8} per ([1-9][0-9]{0,3} )?(second|minute|hour|day)s?")
_QUEUES = ("redis://", "rediss://")
_STORES = ("memory://", "redis://", "rediss://", "redis+unix://")
_WANTED_OF_A_REPLICA = (
    "it and HEELDEPTH_DATABASE_URL must be URLs of PostgreSQL: postgresql+psycopg://..."
)


def _fault_of_replica(given: Mapping[str, str]) -> Iterator[Fault]:
    """Yield the fault of a replica that cannot be one; its URL may hold a password: not shown."""
    if "replica_url" in given:
        urls = [given["replica_url"], given.get("database_url", "")]
        if not all(url.startswith(("postgresql://", "postgresql+")) for url in urls):
            backend = urls[0].partition("://")[0]
            yield Fault(f"{PREFIX}REPLICA_URL", backend, _WANTED_OF_A_REPLICA)


def _faults(given: Mapping[str, str]) -> Iterator[Fault]:
    known = sorted(field.name for field in fields(Settings))
    for name, text in given.items():
        variable = PREFIX + name.upper()
        if name not in known:
            names = ", ".join(PREFIX + setting.upper() for setting in known)
            yield Fault(variable, text, f"no such setting; settings are {names}")
        elif name in _LIMITS:
            low, high = _LIMITS[name]
            if not text.isascii() or not text.isdigit() or not low <= int(text) <= high:
                yield Fault(variable, text, f"it must be a whole number from {low} to {high}")
        elif wanted := _word(name, text):
            shown = text if name != "jobs" else text.partition(":")[0]  # a URL may hold a password
            yield Fault(variable, shown, wanted)


def _word(name: str, text: str) -> str | None:
    """Return what would be right where a setting that is no number is wrong."""
    if name in _CHOICES and text not in _CHOICES[name]:
        return f"it must be {' or '.join(_CHOICES[name])}"
    if name.endswith("_limit") and not _RATE.fullmatch(text):
        return "it must be such as: 10 per 5 minutes, 3000 per hour"
    if name == "rate_limit_storage_url" and not text.startswith(_STORES):
        return f"it must start with one of {', '.join(_STORES)}"
    if name == "jobs" and text not in (IN_PROCESS, DATABASE) and not text.startswith(_QUEUES):
        return f"it must be {IN_PROCESS}, {DATABASE}, or start with {' or '.join(_QUEUES)}"
    return None
