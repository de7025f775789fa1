"""The default policy: how a schedule changes when only the slow-decrease rounds move.

Closing stitches and the wanted medium count belong to the design. One more slow-decrease round
then replaces a fast one and adds three rounds.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate

from models.domain.errors import Fault, Invalid
from models.domain.quantities import (
    CLOSING_STITCHES,
    DECREASES_PER_ROUND,
    HEEL_STITCHES,
    USUAL_DECREASES_PER_ROUND,
)
from models.domain.schedule import Schedule, too_many_at_once, uneven_without_plain_round
from models.domain.sections import COUNT_NAMES, SECTIONS, rounds_worked

USUAL_PLAIN_ROUNDS = 3
"""Plain rounds where a question names none; 2 to 6 are usual (common practice, no source)."""

PLAIN_ROUNDS_TO_CHOOSE = range(2, 7)
"""Among which the plain rounds are chosen as the fine adjustment."""

_EACH = {section.key: section.rounds_each for section in SECTIONS}
_MORE_THAN_FAST, _MORE_THAN_MEDIUM = (_EACH["slow"] - _EACH[key] for key in ("fast", "medium"))
"""Rounds that a slow-decrease round adds where it replaces another decrease round."""


@dataclass(frozen=True)
class Policy:
    """What is fixed in a heel while its slow-decrease rounds are being chosen.

    Raises
    ------
    Invalid
        Where a number is outside its limits or the closing stitches cannot be reached.

    """

    heel_stitches: int
    closing_stitches: int
    medium_decrease_rounds: int
    plain_rounds: int = USUAL_PLAIN_ROUNDS
    decreases_per_round: int = USUAL_DECREASES_PER_ROUND

    def __post_init__(self) -> None:
        if faults := self._limits() or self._arithmetic():
            raise Invalid(faults)

    @property
    def even_stitches(self) -> int:
        """Heel stitches less what the first plain round takes so that the rest comes out even."""
        return self.heel_stitches - self.heel_stitches % self.decreases_per_round

    @property
    def total_decrease_rounds(self) -> int:
        """`D = (H - R) / decreases per round`: also the most slow-decrease rounds there can be."""
        return (self.even_stitches - self.closing_stitches) // self.decreases_per_round

    def schedule(self, slow_decrease_rounds: int) -> Schedule:
        """Return the schedule with that many slow-decrease rounds.

        Raises
        ------
        Invalid
            Where they are fewer than 0 or more than `total_decrease_rounds`.

        >>> dict(Policy(64, 16, 4).schedule(5).counts)
        {'plain_rounds': 3, 'slow_decrease_rounds': 5, 'medium_decrease_rounds': 4, \
'fast_decrease_rounds': 3}

        """
        most = self.total_decrease_rounds
        if not 0 <= slow_decrease_rounds <= most:
            wanted = f"it must be a whole number from 0 to {most}, all decrease rounds there are"
            raise Invalid([Fault("slow_decrease_rounds", slow_decrease_rounds, wanted)])
        counts = self.counts(slow_decrease_rounds)
        return Schedule(self.heel_stitches, counts, self.decreases_per_round)

    def counts(self, slow_decrease_rounds: int) -> dict[str, int]:
        """Return the rounds of each section with that many slow-decrease rounds, 0 to the most."""
        left = self.total_decrease_rounds - slow_decrease_rounds
        medium = min(self.medium_decrease_rounds, left)
        return dict.fromkeys(COUNT_NAMES, 0) | {
            "plain_rounds": self.plain_rounds,
            "slow_decrease_rounds": slow_decrease_rounds,
            "medium_decrease_rounds": medium,
            "fast_decrease_rounds": left - medium,
        }

    def total_rounds(self) -> list[int]:
        """Return the rounds of the whole heel for every s from 0 to the most there can be."""
        none = self.counts(0)
        fast, medium = none["fast_decrease_rounds"], none["medium_decrease_rounds"]
        added = [_MORE_THAN_FAST] * fast + [_MORE_THAN_MEDIUM] * medium
        return [*accumulate(added, initial=rounds_worked(none))]

    def plain_rounds_by_nearness(self) -> tuple[int, ...]:
        """Return the plain rounds asked for, then the others that may be chosen, nearest first.

        >>> Policy(64, 16, 4, plain_rounds=3).plain_rounds_by_nearness()
        (3, 2, 4, 5, 6)
        """
        asked = self.plain_rounds
        others = (plain for plain in PLAIN_ROUNDS_TO_CHOOSE if plain != asked)
        return asked, *sorted(others, key=lambda plain: abs(plain - asked))

    def _limits(self) -> list[Fault]:
        quantities = (
            HEEL_STITCHES,
            CLOSING_STITCHES,
            DECREASES_PER_ROUND,
            *(s.count for s in SECTIONS if s.count.name in self.__dataclass_fields__),
        )
        faults = (quantity.fault(getattr(self, quantity.name)) for quantity in quantities)
        return [fault for fault in faults if fault is not None]

    def _arithmetic(self) -> list[Fault]:
        each = self.decreases_per_round
        if self.heel_stitches < each:
            return [too_many_at_once(self.heel_stitches, each)]
        if self.heel_stitches % each and not self.plain_rounds:
            return [uneven_without_plain_round(self.heel_stitches, each)]
        if each <= self.closing_stitches <= self.even_stitches and self._comes_out_even():
            return []
        return [Fault("closing_stitches", self.closing_stitches, self._reachable())]

    def _comes_out_even(self) -> bool:
        return (self.even_stitches - self.closing_stitches) % self.decreases_per_round == 0

    @property
    def _starting(self) -> str:
        if self.even_stitches == self.heel_stitches:
            return f"{self.heel_stitches} stitches"
        return f"{self.even_stitches} stitches, which {self.heel_stitches} are first brought to,"

    def _reachable(self) -> str:
        """Say which closing stitches decreasing by equal steps can reach."""
        each = self.decreases_per_round
        most = min(self.even_stitches, int(CLOSING_STITCHES.high) // each * each)
        below = min(max(self.closing_stitches // each * each, each), most)
        near = sorted({below, min(below + each, most)})
        return (
            f"{self._starting} less {each} a round reach "
            f"{' or '.join(map(str, near))} (any multiple of {each} from {each} to {most})"
        )
