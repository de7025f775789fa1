"""All reports of a group, whatever became of them, as rows of numbers: doubts are found in these.

Rows are doubles, so that they can wait in files. An id is four numbers of 32 bits, in its order.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from models.learning.evidence import COLUMNS, Column, Evidence

WHOSE, VERSION, DAY, DAY_SAID, COUNTED, WAITING = range(6)
"""Columns of a row: its reporter's number, the report's version, when the sock was finished or,
where that was not said, when the report came, as a day's number, and three that are 1 or 0: whether
the day was said, whether the report counts and nobody has looked at it yet (only such are held),
and whether it is held."""

ID: Final = slice(6, 10)
SAID: Final = slice(10, 10 + len(COLUMNS))
WIDTH: Final = 10 + len(COLUMNS)

_HEX_DIGITS = 32


def coded(report_ids: Sequence[str]) -> Column:
    """Return ids of 32 hexadecimal digits as numbers (n, 4).

    >>> coded(["0000000100000002000000030000000f"]).tolist()
    [[1.0, 2.0, 3.0, 15.0]]
    """
    plain = np.frombuffer(bytes.fromhex("".join(report_ids)), ">u4")
    return plain.reshape(-1, 4).astype(np.float64)


def report_ids(rows: Column) -> list[str]:
    """Return the ids of rows."""
    told = rows[:, ID].astype(">u4").tobytes().hex()
    return [told[first : first + _HEX_DIGITS] for first in range(0, len(told), _HEX_DIGITS)]


def oldest_first(rows: Column) -> Column:
    """Return rows in the order in which their reports came."""
    return np.asarray(rows[np.lexsort(rows[:, ID].T[::-1])])


def evidence_of(rows: Column) -> Evidence:
    """Return what rows say, in their order and under their reporters' numbers."""
    said = dict(zip(COLUMNS, rows[:, SAID].T, strict=True))
    return Evidence(said, rows[:, WHOSE].astype(np.int64))
