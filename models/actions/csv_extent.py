"""How long the rows of a CSV file are, found out before any of it is held in memory."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import IO

from models.domain.errors import Fault, Invalid

LONGEST_ROW = 1_000_000
"""Bytes of a row: some hundred times what its texts may have. In memory it takes up to four times
as much, and is copied."""

BYTES_AT_ONCE = 4_000_000
"""Bytes of a file that are worked on at once, where its rows are about equally long."""


def fitting_rows(path: Path, separator: str, most: int) -> int:
    """Return how many rows of a CSV file may be read at once, at most so many.

    Raises
    ------
    Invalid
        Where a row is longer than any may be.

    """
    size = path.stat().st_size
    if size <= LONGEST_ROW:
        return most
    if _may_have_a_long_row(path):
        _require_short_rows(path, separator)
    return max(1, min(most, BYTES_AT_ONCE * count_lines(path) // size))


def count_lines(path: Path) -> int:
    """Return how many line ends a file has."""
    return sum(block.count(b"\n") for block in _blocks(path))


def _may_have_a_long_row(path: Path) -> bool:
    """Return whether there are quotation marks, or a block in which no line ends."""
    return any(b'"' in block or b"\n" not in block for block in _blocks(path))


def _blocks(path: Path) -> Iterator[bytes]:
    """Yield a file in blocks, of which a row that is too long fills at least one."""
    with path.open("rb") as file:
        yield from iter(partial(file.read, LONGEST_ROW // 2), b"")


def _require_short_rows(path: Path, separator: str) -> None:
    """Raise `Invalid` where a row is too long, which may have line ends within quotation marks."""
    number = 0
    with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
        rows = csv.reader(_short_lines(file), delimiter=separator)
        try:
            for cells in rows:
                number += 1
                _require_short(sum(map(len, cells)))
        except csv.Error as error:
            wanted = f"row {number + 1} is too long; does a quotation mark end its text?"
            raise Invalid([Fault("file", path.name, wanted)]) from error


def _require_short(length: int) -> None:
    if length > LONGEST_ROW:
        raise csv.Error("as the reader says it of a cell")


def _short_lines(file: IO[str]) -> Iterator[str]:
    while line := file.readline(LONGEST_ROW + 1):
        _require_short(len(line))
        yield line
