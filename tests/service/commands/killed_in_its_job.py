"""Kills a server, and the process that works for it, in the middle of an import.

For tests: whatever loads this module becomes so, and so do all copies of it.
"""

from __future__ import annotations

import os
import signal
from multiprocessing import parent_process
from typing import Any

from models.actions import csv_chunks, import_reports

csv_chunks.read_chunks.__defaults__ = (2_000,)  # rows in a piece

_write = import_reports._write
_written: list[int] = []


def _write_or_die(*given: Any, **options: Any) -> list[int]:
    known = _write(*given, **options)
    _written.append(1)
    server = parent_process()
    if len(_written) == 2 and server is not None and server.pid is not None:
        os.kill(server.pid, signal.SIGKILL)
        os.kill(os.getpid(), signal.SIGKILL)
    return known


import_reports._write = _write_or_die
