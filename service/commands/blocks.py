"""Where reports are while a command learns from them: where they fit, in files, on a cluster."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial

import click

from models.actions.basis import InBlocks, by_size
from models.actions.judging import Gather
from models.domain.errors import Unavailable
from models.learning.spilled import Spilled


@contextmanager
def gathering(blocks: int | None, cluster: str | None) -> Iterator[Gather]:
    """Yield what gathers reports in about so many blocks, on a Dask cluster where one is named.

    Raises
    ------
    Unavailable
        Where Dask is not installed, or no scheduler answers.

    """
    if blocks is None:
        if cluster is not None:
            raise click.UsageError("--cluster needs --blocks")
        yield by_size
    elif cluster is None:
        yield InBlocks(blocks, Spilled.of)
    else:
        with _on_cluster(blocks, cluster) as gather:
            yield gather


@contextmanager
def _on_cluster(blocks: int, address: str) -> Iterator[Gather]:
    # An extra that most do without is imported only where it is asked for.
    try:
        from models.learning.cluster import OnCluster, connected  # noqa: PLC0415
    except ModuleNotFoundError as error:
        raise Unavailable("a cluster needs the extra: pip install 'heeldepth[cluster]'") from error
    with connected(address) as client:
        yield InBlocks(blocks, partial(OnCluster.of, client))
