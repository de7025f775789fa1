"""Blocks: what is too large for one place, cut so that what is said of each part adds up."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Any, ClassVar, Generic, TypeVar

import numpy as np

from models.learning.ordinal.arrays import Floats

B = TypeVar("B")
T = TypeVar("T")


class Blocks(ABC, Generic[B]):
    """Blocks in memory, in files or on a cluster; one reporter's rows are all in one of them.

    Work is a function of a block and of what is `given` for it, one sequence an argument; where
    blocks are elsewhere it must be picklable. `near` says whether they are at hand, so that what
    was found of their rows may stay beside them.
    """

    near: ClassVar[bool] = False

    @abstractmethod
    def each(self, work: Callable[..., T], *given: Sequence[Any]) -> list[T]:
        """Return what is found of each block, in their order."""

    @abstractmethod
    def mapped(self, work: Callable[..., T], *given: Sequence[Any]) -> Blocks[T]:
        """Return blocks made of these, held as these are."""

    @abstractmethod
    def only(self, places: Sequence[int]) -> Blocks[B]:
        """Return some of the blocks, by their places in the order."""


@dataclass(frozen=True)
class InMemory(Blocks[B]):
    """Blocks at hand."""

    parts: tuple[B, ...]
    near: ClassVar[bool] = True

    def each(self, work: Callable[..., T], *given: Sequence[Any]) -> list[T]:
        """See `Blocks`."""
        return [work(part, *own) for part, *own in zip(self.parts, *given, strict=True)]

    def mapped(self, work: Callable[..., T], *given: Sequence[Any]) -> InMemory[T]:
        """See `Blocks`."""
        return InMemory(tuple(self.each(work, *given)))

    def only(self, places: Sequence[int]) -> InMemory[B]:
        """See `Blocks`."""
        return InMemory(tuple(self.parts[place] for place in places))


def added(parts: Sequence[Floats]) -> Floats:
    """Return the sum of what blocks found, in their order: the same bits every time."""
    return np.asarray(reduce(np.add, parts), dtype=np.float64)
