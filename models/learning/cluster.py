"""Blocks on the workers of a Dask cluster; it needs the extra `cluster`.

What workers find is added up here, in the order of the blocks: the same blocks give the same bits
whoever worked on them. Data that were sent to a worker are lost with it, and the fit then fails.

References
----------
Rocklin, M. (2015). Dask: parallel computation with blocked algorithms and task scheduling. Proc.
14th Python in Science Conference (from memory).

"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from distributed import Client, Future

from models.domain.errors import Unavailable
from models.learning.ordinal.blocks import B, Blocks, T

_PATIENCE = "10s"


@contextmanager
def connected(address: str) -> Iterator[Client]:
    """Yield a client of the scheduler at an address such as `tcp://host:8786`.

    Raises
    ------
    Unavailable
        Where none answers there.

    """
    try:
        client = Client(address, timeout=_PATIENCE)
    except (OSError, ValueError) as error:
        raise Unavailable(f"no Dask scheduler answers at {address}") from error
    with client:
        yield client


@dataclass(frozen=True)
class OnCluster(Blocks[B]):
    """Blocks that workers hold; work goes where its block is."""

    client: Client
    held: tuple[Future[Any], ...]

    @classmethod
    def of(cls, client: Client, parts: Iterable[B]) -> OnCluster[B]:
        """Send blocks as they come, each to one worker; one of them is here at a time."""
        return cls(client, tuple(client.scatter(part, hash=False) for part in parts))

    def each(self, work: Callable[..., T], *given: Sequence[Any]) -> list[T]:
        """See `Blocks`."""
        found: list[T] = self.client.gather(list(self.mapped(work, *given).held))
        return found

    def mapped(self, work: Callable[..., T], *given: Sequence[Any]) -> OnCluster[T]:
        """See `Blocks`."""
        tasks = (
            self.client.submit(work, part, *own, pure=False)
            for part, *own in zip(self.held, *given, strict=True)
        )
        return OnCluster(self.client, tuple(tasks))

    def only(self, places: Sequence[int]) -> OnCluster[B]:
        """See `Blocks`."""
        return OnCluster(self.client, tuple(self.held[place] for place in places))
