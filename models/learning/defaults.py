"""Calibrated defaults: for every size of a design, the heel that suits most of its people.

All sizes are answered by one posterior, so what was reported on one size counts for the others as
far as they are alike. The best table is chosen as a whole (`models.learning.grading`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from models.domain.policy import PLAIN_ROUNDS_TO_CHOOSE
from models.learning.calibration import Calibration, geometry_alone
from models.learning.decide import Figures
from models.learning.evidence import Column
from models.learning.grading import graded
from models.learning.needed import Z_80
from models.learning.outcomes import SLOPE, Draws, Shares, SizeHeel, drawn, shares
from models.learning.splitting import Split, best_split

_DRAWS = 100
_LOW, _HIGH = 0.1, 0.9


@dataclass(frozen=True)
class Choice:
    """A heel of a size, its depth (mm) and the shares of people it is too shallow for, and so on.

    Shares are plain floats.
    """

    plain_rounds: int
    slow_decrease_rounds: int
    depth_mm: float
    shares: Shares


@dataclass(frozen=True)
class Default:
    """What one size has today, what it should have, and how sure that is.

    With 80 % the best number of slow-decrease rounds lies from `low` to `high`. `alone` is what
    would be chosen if there were no other sizes. `falls_back` is True where the size gets fewer
    than the smaller one before it although geometry asks for at least as many. `split` is None
    where one heel serves the size.
    """

    size: SizeHeel
    today: Choice
    best: Choice
    alone: Choice
    low: int
    high: int
    falls_back: bool
    split: Split | None


@dataclass(frozen=True)
class Defaults:
    """The defaults of a design, in the order the sizes were given in.

    `established` is False where the reports could not tell and geometry answered.
    """

    calibration: Calibration
    sizes: tuple[Default, ...]
    established: bool


def defaults(
    calibration: Calibration,
    sizes: Sequence[SizeHeel],
    *,
    choose_plain: bool = False,
    allow_jumps: bool = False,
) -> Defaults:
    """Return the defaults of all sizes of a design.

    Parameters
    ----------
    calibration : Calibration
        What answers.
    sizes : sequence of SizeHeel
        All complete sizes of the design, in any order.
    choose_plain : bool
        Whether plain rounds from 2 to 6 may be chosen too, or stay as they are.
    allow_jumps : bool
        Whether neighbouring sizes may differ by more than two slow-decrease rounds.

    """
    established = is_established(calibration.figures)
    answering = calibration if established else geometry_alone()
    tables = [_Table.of(answering.figures, size, choose_plain=choose_plain) for size in sizes]
    order = by_foot(sizes)
    rising = [b >= a for a, b in pairwise(geometry_asks(sizes[k]) for k in order)]
    chosen = graded(
        [tables[k].values for k in order],
        rising,
        [sizes[k].slow_decrease_rounds for k in order],
        allow_jumps=allow_jumps,
    )
    falls = [must and b < a for must, (a, b) in zip(rising, pairwise(chosen), strict=True)]
    sample = drawn(answering.posterior, _DRAWS)
    answers = {
        place: _default(sample, answering.figures, tables[place], slow, falls_back=falls_back)
        for place, slow, falls_back in zip(order, chosen, [False, *falls], strict=True)
    }
    return Defaults(calibration, tuple(answers[k] for k in range(len(sizes))), established)


def is_established(figures: Figures) -> bool:
    """Return whether it is known, at 80 %, that a deeper heel is felt as deeper."""
    slope, variance = float(figures.mean[SLOPE]), float(figures.covariance[SLOPE, SLOPE])
    return slope > 0 and Z_80**2 * variance < slope**2


def by_foot(sizes: Sequence[SizeHeel]) -> list[int]:
    """Return the places of sizes ordered by the heel diagonal their feet have on average."""
    means = [float(s.feet.weight @ s.feet.columns["heel_diagonal_mm"]) for s in sizes]
    return sorted(range(len(sizes)), key=means.__getitem__)


def geometry_asks(size: SizeHeel) -> float:
    """Return the slow-decrease rounds, not rounded, that geometry asks for on average.

    Where it asks for more than the stitches allow, or for less than none, it is the nearest that
    can be knitted.
    """
    steps = size.steps_cm(size.policy.plain_rounds)
    excess = float(size.feet.weight @ size.terms[:, SLOPE])
    return float(np.interp(-excess, steps, np.arange(len(steps))))


@dataclass(frozen=True)
class _Table:
    """Mean shares of a size at every depth: plain rounds (P,) times slow-decrease rounds (S,)."""

    size: SizeHeel
    plain: tuple[int, ...]
    outcome: Shares

    @classmethod
    def of(cls, figures: Figures, size: SizeHeel, *, choose_plain: bool) -> _Table:
        """Return the table of a size; its plain rounds of today come first."""
        now = size.policy.plain_rounds
        plain = (now, *(p for p in PLAIN_ROUNDS_TO_CHOOSE if p != now)) if choose_plain else (now,)
        plain = tuple(sorted(plain, key=lambda p: abs(p - now)))
        steps = np.array([size.steps_cm(p) for p in plain])
        found = shares(figures, size.terms, steps.ravel())
        weight = size.feet.weight
        shape = steps.shape
        return cls(
            size,
            plain,
            Shares(
                *(
                    (weight @ one).reshape(shape)
                    for one in (found.too_shallow, found.just_right, found.too_deep)
                )
            ),
        )

    @property
    def values(self) -> Column:
        """The best mean chance (S,) of just right for every number of slow-decrease rounds."""
        return np.asarray(self.outcome.just_right.max(axis=0))

    def choice(self, slow: int, place: int | None = None) -> Choice:
        """Return a number of slow-decrease rounds with the plain rounds that suit it best."""
        if place is None:
            place = int(np.argmax(self.outcome.just_right[:, slow]))
        return Choice(
            self.plain[place],
            slow,
            self.size.depth_mm(self.plain[place], slow),
            Shares(
                float(self.outcome.too_shallow[place, slow]),
                float(self.outcome.just_right[place, slow]),
                float(self.outcome.too_deep[place, slow]),
            ),
        )


def _default(
    sample: Draws, figures: Figures, table: _Table, slow: int, *, falls_back: bool
) -> Default:
    size, best = table.size, table.choice(slow)
    low, high = _range(sample, size, best.plain_rounds)
    return Default(
        size,
        table.choice(size.slow_decrease_rounds, 0),
        best,
        table.choice(int(np.argmax(table.values))),
        min(low, slow),
        max(high, slow),
        falls_back,
        best_split(figures, size, best.plain_rounds, slow),
    )


def _range(sample: Draws, size: SizeHeel, plain_rounds: int) -> tuple[int, int]:
    """Return the 80 % range of the best number over draws from the posterior."""
    chances = sample.just_right(size.terms, size.feet.weight, size.steps_cm(plain_rounds))
    best = np.argmax(chances, axis=1)
    low, high = np.quantile(best, [_LOW, _HIGH], method="inverted_cdf")
    return int(low), int(high)
