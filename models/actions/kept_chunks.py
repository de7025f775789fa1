"""Checked rows of a file, kept on disk between reading and writing them."""

from __future__ import annotations

import pickle
from collections.abc import Iterator
from contextlib import contextmanager
from tempfile import SpooledTemporaryFile
from typing import IO

from models.actions.csv_chunks import Chunk

BYTES_IN_MEMORY = 4_000_000
"""Short files need no disk."""


class KeptChunks:
    """Chunks in the order in which they were added, one in memory at a time."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self._count = 0

    def add(self, chunk: Chunk) -> None:
        """Keep one more."""
        pickle.dump(chunk, self._file, pickle.HIGHEST_PROTOCOL)
        self._count += 1

    def __iter__(self) -> Iterator[Chunk]:
        self._file.seek(0)
        for _ in range(self._count):
            yield pickle.load(self._file)  # noqa: S301 -- of this process, in a file without a name


@contextmanager
def kept_chunks() -> Iterator[KeptChunks]:
    """Keep chunks as long as it lasts."""
    with SpooledTemporaryFile(BYTES_IN_MEMORY) as file:
        yield KeptChunks(file)
