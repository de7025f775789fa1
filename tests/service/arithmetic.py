"""What tests have worked out in other processes, which find it by the name of this module."""

from __future__ import annotations

import gc
import logging
import os
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from models.domain.errors import Busy, Fault, Invalid
from models.tables.alone import alone
from models.tables.engine import Database
from service.apart import politely


def log_to(file: str) -> None:
    """Write what is logged into a file."""
    logging.getLogger().addHandler(logging.FileHandler(file))


def where(database: Database, _heard: object) -> tuple[int, int, str]:
    """Return process, niceness and database."""
    politely()
    return os.getpid(), os.nice(0), database.engine.url.render_as_string(hide_password=False)


def garbage(_database: Database, _heard: object) -> tuple[int, int]:
    """Return among how many objects garbage is looked for, and how many are left out."""
    return len(gc.get_objects()), gc.get_freeze_count()


def has_turn(database: Database, _heard: object, what: str) -> bool:
    """Return whether nobody else is doing something just now."""
    try:
        with alone(database, what, lambda: None, patience_s=0):
            return True
    except Busy:
        return False


def refused(_database: Database, _heard: object) -> None:
    """Refuse something."""
    raise Invalid([Fault("group", 7, "a name")])


def vanish(_database: Database, _heard: object) -> None:
    """End as for want of memory."""
    os._exit(9)


def broken(_database: Database, _heard: object) -> None:
    """Break, with a message that may hold what somebody sent."""
    raise LookupError(" ".join(("somebody's", "words")))


def littering(_database: Database, _heard: object, note: str) -> None:
    """Note a file of its own that it has not taken away yet, and take long."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / "upload"
        file.write_text("invented")
        Path(note).write_text(str(file))
        time.sleep(600)


def long(_database: Database, _heard: object, note: str) -> None:
    """Note which process this is, and take long."""
    Path(note).write_text(str(os.getpid()))
    time.sleep(600)
