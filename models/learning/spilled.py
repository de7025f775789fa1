"""Blocks in files of their own, for what does not fit in memory at once."""

from __future__ import annotations

import shutil
import tempfile
import weakref
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.learning.ordinal.arrays import Floats, Integers
from models.learning.ordinal.blocks import B, Blocks, T

_READ_AT_ONCE = 100_000


class Folder:
    """A folder for temporary files (`TMPDIR`) that only this user can read.

    It goes when nobody uses it any more, at the latest when the process ends in peace.
    """

    def __init__(self) -> None:
        self.path = Path(tempfile.mkdtemp(prefix="heeldepth-"))
        weakref.finalize(self, shutil.rmtree, self.path)


@dataclass(frozen=True)
class Spilled(Blocks[B]):
    """Blocks that are read one at a time, each for as long as work on it lasts."""

    files: tuple[Path, ...]
    folder: Folder

    @classmethod
    def of(cls, parts: Iterable[B]) -> Spilled[B]:
        """Write blocks as they come; one of them is in memory at a time."""
        folder = Folder()
        numbered = ((folder.path / str(number), part) for number, part in enumerate(parts))
        return cls(tuple(_written(file, part) for file, part in numbered), folder)

    def each(self, work: Callable[..., T], *given: Sequence[Any]) -> list[T]:
        """See `Blocks`."""
        return list(self._each(work, *given))

    def mapped(self, work: Callable[..., T], *given: Sequence[Any]) -> Spilled[T]:
        """See `Blocks`."""
        return Spilled.of(self._each(work, *given))

    def only(self, places: Sequence[int]) -> Spilled[B]:
        """See `Blocks`."""
        return Spilled(tuple(self.files[place] for place in places), self.folder)

    def __iter__(self) -> Iterator[B]:
        """Yield the blocks, read one at a time."""
        return map(_read, self.files)

    def _each(self, work: Callable[..., T], *given: Sequence[Any]) -> Iterator[T]:
        for file, *own in zip(self.files, *given, strict=True):
            yield work(_read(file), *own)


class Ranges:
    """Rows of numbers on their way from blocks of one order into blocks of another.

    Rows (n, k) of the same range are appended to one file, whatever block they come from.
    """

    def __init__(self, ranges: int, columns: int) -> None:
        self._folder = Folder()
        self._columns = columns
        self._files = [self._folder.path / str(number) for number in range(ranges)]

    def add(self, rows: Floats, range_of: Integers) -> None:
        """Append rows to the files of their ranges (n,), in their order."""
        order = np.argsort(range_of, kind="stable")
        numbers, firsts = np.unique(range_of[order], return_index=True)
        # No rows split into one piece of none, which has no number.
        for number, some in zip(numbers, np.split(rows[order], firsts[1:]), strict=False):
            with self._files[number].open("ab") as file:
                some.tofile(file)

    def pieces(self, number: int) -> Iterator[Floats]:
        """Yield the rows (n, k) of one range a few at a time, in their order."""
        with self._files[number].open("rb") as file:
            while len(some := np.fromfile(file, count=_READ_AT_ONCE * self._columns)):
                yield some.reshape(-1, self._columns)

    def __iter__(self) -> Iterator[Floats]:
        """Yield the rows (n, k) of each range that has any."""
        for file in self._files:
            if file.exists():
                yield np.fromfile(file).reshape(-1, self._columns)


def together(
    chunks: Iterable[Floats], parts: int, number_of: Callable[[Floats], NDArray[np.uint64]]
) -> Iterator[Floats]:
    """Yield rows (n, k) in about so many parts, those of the same number (n,) in the same part.

    With one part all rows are in memory; otherwise they wait in files.
    """
    if parts == 1:
        rows = [*chunks]
        yield from [np.concatenate(rows)] if rows else []
        return
    ranges: Ranges | None = None
    for some in chunks:
        ranges = ranges or Ranges(parts, some.shape[1])
        ranges.add(some, (number_of(some) % np.uint64(parts)).astype(np.int64))
    yield from ranges or []


def _written(file: Path, part: object) -> Path:
    # Here, for a server starts without joblib: few groups are so large that they need files.
    import joblib  # noqa: PLC0415

    joblib.dump(part, file)
    return file


def _read(file: Path) -> Any:
    import joblib  # noqa: PLC0415

    return joblib.load(file)
