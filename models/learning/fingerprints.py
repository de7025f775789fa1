"""The fingerprint of reports that never were in memory together: `Evidence.fingerprint` of them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import partial

import numpy as np

from models.learning.evidence import COLUMNS
from models.learning.ordinal.arrays import Floats
from models.learning.spilled import Ranges, Spilled

_KEYS_OF_A_CHUNK = 64


def fingerprint(chunks: Spilled[Floats], said: int = 0) -> str:
    """Return the SHA-256 of all rows sorted by what they say: `COLUMNS` from column `said` on."""
    columns = Ranges(len(COLUMNS), 1)
    for rows in _by_content(chunks, said):
        for place, values in enumerate(rows.T):
            columns.add(values[:, None], np.full(len(values), place))
    digest = hashlib.sha256()
    for place, name in enumerate(COLUMNS):
        digest.update(name.encode())
        for values in columns.pieces(place):
            digest.update(values.astype("<f8").tobytes())
    return digest.hexdigest()


def sort_keys(said: Floats) -> list[Floats]:
    """Return the keys of `lexsort` for what rows (n, columns) say; the last is the first."""
    return list(said.T[::-1])


def _by_content(chunks: Spilled[Floats], said: int) -> Iterator[Floats]:
    """Yield what all rows say (n, columns), sorted by content over all chunks."""
    sampled = np.sort(np.concatenate(chunks.each(partial(_some_keys, said=said))))
    limits = sampled[_KEYS_OF_A_CHUNK::_KEYS_OF_A_CHUNK]
    ranges = Ranges(len(limits) + 1, len(COLUMNS))
    for rows in chunks:
        ranges.add(rows[:, said:], np.searchsorted(limits, _key(rows, said), side="right"))
    for some in ranges:
        yield some[np.lexsort(sort_keys(some))]


def _key(rows: Floats, said: int) -> Floats:
    """Return the first two columns as one number each: complex ones are ordered as pairs."""
    return np.asarray(rows[:, said] + 1j * rows[:, said + 1])


def _some_keys(rows: Floats, said: int) -> Floats:
    places = np.linspace(0, len(rows) - 1, _KEYS_OF_A_CHUNK).astype(np.int64)
    return _key(rows[places], said)
