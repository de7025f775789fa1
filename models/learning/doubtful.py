"""Which reports to hold back, and why: feet that are none, copies, wrong signs, floods.

Reports are held for a steward to look at, so a sound one must hardly ever be among them.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.domain.reviews import Reason
from models.learning.copies import copies, numbered
from models.learning.estimator import Posterior
from models.learning.evidence import Column, Evidence
from models.learning.flipped import flipped
from models.learning.proportions import implausible_feet
from models.learning.received import COUNTED, DAY, ID, WAITING, WIDTH, evidence_of, oldest_first

Rows = NDArray[np.bool_]

MOST_OF_ONE_DAY = 100
"""Reports of one reporter for one day. Nobody knits a hundred socks in a day, or in most years; a
season's socks or a test knit of 60, sent in one evening or all given one date, stay below. What a
smaller flood can do is bounded by the share that one reporter may have of the pool."""

_REASONS = tuple(Reason)
"""The most tangible reason first: it is the one that is given."""


class Doubted(NamedTuple):
    """Rows to hold, oldest first, and the reason of each."""

    rows: Column
    reasons: list[Reason]


def doubted(posterior: Posterior, chunks: Iterable[Column], parts: int = 1) -> Doubted:
    """Return which of all reports of a group to hold.

    Parameters
    ----------
    posterior : Posterior
        Signs are judged by it.
    chunks : arrays (n, WIDTH)
        Rows as `models.learning.received` says, all of one reporter in one of them. They are read
        twice.
    parts : int
        In how many parts copies are looked for, of which about one is in memory at a time.

    """
    found = [np.empty((0, WIDTH + 1))]
    found += [_of_people(posterior, rows) for rows in chunks]
    found += [_because(Reason.COPY, rows[rows[:, COUNTED] == 1]) for rows in copies(chunks, parts)]
    return _most_tangible(np.concatenate(found))


def floods(
    reporter: NDArray[np.int64], day: NDArray[np.int64], counted: Rows, waiting: Rows
) -> Rows:
    """Return the rows of reporters' days that have more reports than anybody knits.

    Held ones count along, so that a flood is not let in by slices; what a steward has looked at
    does not.
    """
    cell = numbered(reporter, day - day.min(initial=0))
    count = np.bincount(cell, weights=counted | waiting)
    return np.asarray(count[cell] > MOST_OF_ONE_DAY)


def _of_people(posterior: Posterior, chunk: Column) -> Column:
    """Return the rows to hold for what they say of their feet and reporters, with the reason."""
    rows = oldest_first(chunk)
    evidence, day = evidence_of(rows), rows[:, DAY].astype(np.int64)
    counted, waiting = rows[:, COUNTED] == 1, rows[:, WAITING] == 1
    found = {
        Reason.IMPLAUSIBLE_FOOT: implausible_feet(evidence.columns),
        Reason.FLIPPED_SIGNS: _flipped(posterior, evidence, counted),
        Reason.FLOODING: floods(evidence.reporter, day, counted, waiting),
    }
    return np.concatenate([_because(reason, rows[of & counted]) for reason, of in found.items()])


def _flipped(posterior: Posterior, evidence: Evidence, counted: Rows) -> Rows:
    """Judge the signs of what counts alone: what was corrected since is judged afresh."""
    held = np.zeros(evidence.reports, dtype=bool)
    held[counted] = flipped(posterior, evidence.only(counted))
    return held


def _because(reason: Reason, rows: Column) -> Column:
    """Return rows with the place of their reason among all as one more column."""
    return np.column_stack([rows, np.full(len(rows), _REASONS.index(reason))])


def _most_tangible(found: Column) -> Doubted:
    """Return each row once, for the first of its reasons."""
    ordered = oldest_first(found[np.argsort(found[:, -1], kind="stable")])
    new = np.ones(len(ordered), dtype=bool)
    new[1:] = np.any(ordered[1:, ID] != ordered[:-1, ID], axis=1)
    rows = ordered[new]
    return Doubted(rows[:, :-1], [_REASONS[int(place)] for place in rows[:, -1]])
