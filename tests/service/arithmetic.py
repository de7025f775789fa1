"""What tests have worked out in other processes, which find it by the name of this module."""

from __future__ import annotations

import os
import time
from pathlib import Path

from models.domain.errors import Fault, Invalid
from models.tables.engine import Database


def where(database: Database, _heard: object) -> tuple[int, int, str]:
    """Return process, niceness and database."""
    return os.getpid(), os.nice(0), database.engine.url.render_as_string(hide_password=False)


def refused(_database: Database, _heard: object) -> None:
    """Refuse something."""
    raise Invalid([Fault("group", 7, "a name")])


def vanish(_database: Database, _heard: object) -> None:
    """End as for want of memory."""
    os._exit(9)


def long(_database: Database, _heard: object, note: str) -> None:
    """Note which process this is, and take long."""
    Path(note).write_text(str(os.getpid()))
    time.sleep(600)
