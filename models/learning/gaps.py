"""How much better or worse one calibration foresees reports than another, and how surely."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from models.learning.bands import KINDS, Cell, cells, nobody_stands_out
from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.learning.clustered import Estimate, weighted_mean
from models.learning.evidence import Column, Evidence, people
from models.learning.folds import Rows
from models.learning.held_out import Foreseen

FEWEST_IN_A_BAND = 20
"""People without whom a band is not judged."""

ALL_REPORTS, KNOWN_REPORTS = "all reports", "reports known before"
LOG_SCORE, JUST_RIGHT = "log score", "just right"


@dataclass(frozen=True)
class Gap:
    """A mean difference, challenger less the other, with its reporter-clustered standard error.

    `measure` is `LOG_SCORE` (nats a report) or `JUST_RIGHT` (share of the socks near what each
    wanted), `kind` and `band` are None where all socks count. It is `storable` where nothing about
    fewer than ten people is to be had by subtracting it from other gaps.
    """

    against: str
    measure: str
    scope: str
    kind: str | None
    band: str | None
    value: float
    standard_error: float
    reports: int
    people: int
    storable: bool


@dataclass(frozen=True)
class Contest:
    """Reports with their weights (n,), what two calibrations foresaw, and who the other is."""

    evidence: Evidence
    weight: Column
    challenger: Foreseen
    other: Foreseen
    against: str

    def gaps(self, scope: str, counted: Rows) -> Iterator[Gap]:
        """Yield the gaps over some rows (n,): over all of them, then in every band of enough."""
        for measure, rows in ((LOG_SCORE, np.ones_like(counted)), (JUST_RIGHT, self._near)):
            whole = Cell(None, None, rows)
            if people(self._who, rows & counted) < FEWEST_REPORTERS_SHOWN:
                continue
            yield from self._measured(measure, scope, whole, counted)
            for kind in KINDS:
                yield from self._in_bands(measure, scope, kind, rows, counted)

    def _in_bands(
        self, measure: str, scope: str, kind: str, rows: Rows, counted: Rows
    ) -> Iterator[Gap]:
        found = cells(self.evidence, kind, FEWEST_IN_A_BAND)
        bands = [Cell(kind, cell.label, cell.rows & rows) for cell in found]
        enough = [b for b in bands if people(self._who, b.rows & counted) >= FEWEST_IN_A_BAND]
        if len(found) < 2 or not enough:
            return
        rest = rows & ~np.any([band.rows for band in enough], axis=0)
        alone = not nobody_stands_out(self._who, rest & counted)
        for band in enough:
            yield from self._measured(measure, scope, band, counted, withheld=alone)

    def _measured(
        self, measure: str, scope: str, cell: Cell, counted: Rows, *, withheld: bool = False
    ) -> Iterator[Gap]:
        rows = cell.rows & counted
        gap = (self._log_score if measure == LOG_SCORE else self._just_right)(rows)
        if gap is None:
            return
        yield Gap(
            self.against,
            measure,
            scope,
            cell.kind,
            cell.label,
            gap.value,
            gap.standard_error(self._who[rows]),
            int(rows.sum()),
            people(self._who, rows),
            not withheld and nobody_stands_out(self._who, cell.rows & ~counted),
        )

    def _log_score(self, rows: Rows) -> Estimate:
        return weighted_mean(self._gained[rows], self.weight[rows])

    def _just_right(self, rows: Rows) -> Estimate | None:
        """Return the difference of shares; the two rest on other socks, some of them the same."""
        right = (self.evidence.score[rows] == 0).astype(float)
        weights = [self.weight[rows] * one.near[rows] for one in (self.challenger, self.other)]
        if not all(weight.any() for weight in weights):
            return None
        mine, theirs = (weighted_mean(right, weight) for weight in weights)
        return mine - theirs

    @property
    def _who(self) -> NDArray[np.int64]:
        return self.evidence.reporter

    @property
    def _near(self) -> Rows:
        return self.challenger.near | self.other.near

    @cached_property
    def _gained(self) -> Column:
        return self.challenger.log_score(self.evidence) - self.other.log_score(self.evidence)
