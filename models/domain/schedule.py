"""A schedule: which rounds are worked in a heel, and what every round leaves on the needles."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from models.domain.errors import Fault, Invalid
from models.domain.quantities import DECREASES_PER_ROUND, HEEL_STITCHES, USUAL_DECREASES_PER_ROUND
from models.domain.sections import COUNT_NAMES, SECTIONS, decrease_rounds, rounds_worked


@dataclass(frozen=True)
class Round:
    """One round of the heel, numbered from 1, with its stitches before and after."""

    number: int
    section: str
    decreases: int
    stitches_before: int

    @property
    def stitches_after(self) -> int:
        """Stitches on the needles when the round is done."""
        return self.stitches_before - self.decreases


@dataclass(frozen=True)
class Schedule:
    """Heel stitches and the rounds of each section, by the names of the section registry.

    A stitch count that is no multiple of the decreases per round is allowed where there is a plain
    round: the remainder is decreased in the first of them, so that the rest comes out even.

    Raises
    ------
    Invalid
        Where a count is outside its limits, a remainder has no plain round to go into, or fewer
        stitches than one for each decrease of a round would be left to close.

    """

    heel_stitches: int
    counts: Mapping[str, int]
    decreases_per_round: int = USUAL_DECREASES_PER_ROUND

    def __post_init__(self) -> None:
        faults = [*self._limits()] or [*self._arithmetic()]
        if faults:
            raise Invalid(faults)
        object.__setattr__(self, "counts", MappingProxyType(dict(self.counts)))

    @property
    def remainder(self) -> int:
        """Stitches to lose in the first plain round so that the sections come out even."""
        return self.heel_stitches % self.decreases_per_round

    @property
    def even_stitches(self) -> int:
        """Heel stitches less the remainder: what the decrease rounds start from."""
        return self.heel_stitches - self.remainder

    @property
    def closing_stitches(self) -> int:
        """Stitches left to close."""
        lost = self.decreases_per_round * int(decrease_rounds(self.counts))
        return self.even_stitches - lost

    @property
    def total_rounds(self) -> int:
        """Rounds from the waste-yarn line to the close."""
        return int(rounds_worked(self.counts))

    def depth_mm(self, rounds_per_10cm: float) -> float:
        """Return the depth in mm, from the waste-yarn line to the close."""
        return self.total_rounds * 100 / rounds_per_10cm

    def rounds(self) -> Iterator[Round]:
        """Yield every round in the order it is knitted."""
        stitches = self.heel_stitches
        for number, (section, decreases) in enumerate(self._decreases(), start=1):
            done = Round(number, section, decreases, stitches)
            stitches = done.stitches_after
            yield done

    def _decreases(self) -> Iterator[tuple[str, int]]:
        """Yield section and stitches lost, round by round."""
        to_even_out = self.remainder
        for section in SECTIONS:
            for _ in range(self.counts[section.count.name]):
                for _ in range(section.plain_before):
                    yield section.key, 0
                yield section.key, self.decreases_per_round if section.decreases else to_even_out
                to_even_out = 0

    def _limits(self) -> Iterator[Fault]:
        checks = [
            HEEL_STITCHES.fault(self.heel_stitches),
            DECREASES_PER_ROUND.fault(self.decreases_per_round),
            *(section.count.fault(self.counts.get(section.count.name)) for section in SECTIONS),
        ]
        yield from (fault for fault in checks if fault is not None)
        for name in self.counts:
            if name not in COUNT_NAMES:
                yield Fault(name, self.counts[name], f"sections are {', '.join(COUNT_NAMES)}")

    def _arithmetic(self) -> Iterator[Fault]:
        if self.heel_stitches < self.decreases_per_round:
            yield too_many_at_once(self.heel_stitches, self.decreases_per_round)
            return
        if self.remainder and not self.counts["plain_rounds"]:
            yield uneven_without_plain_round(self.heel_stitches, self.decreases_per_round)
        if self.closing_stitches < self.decreases_per_round:
            yield too_many_decreases(
                self.heel_stitches, self.decreases_per_round, decrease_rounds(self.counts)
            )


def uneven_without_plain_round(heel_stitches: int, decreases_per_round: int) -> Fault:
    """Return the fault of a remainder that no plain round can take up."""
    remainder = heel_stitches % decreases_per_round
    below = heel_stitches - remainder
    near = [n for n in (below, below + decreases_per_round) if HEEL_STITCHES.fault(n) is None]
    return Fault(
        "heel_stitches",
        heel_stitches,
        f"it is no multiple of {decreases_per_round}; use {' or '.join(map(str, near))}, or work "
        f"a plain round in which the odd {remainder} can be decreased",
    )


def too_many_at_once(heel_stitches: int, decreases_per_round: int) -> Fault:
    """Return the fault of a decrease round that needs more stitches than there are."""
    return Fault(
        "decreases_per_round",
        decreases_per_round,
        f"{heel_stitches} heel stitches allow at most {heel_stitches} decreases per round",
    )


def too_many_decreases(heel_stitches: int, decreases_per_round: int, rounds: int) -> Fault:
    """Return the fault of more decreases than the stitches allow."""
    most = heel_stitches // decreases_per_round - 1
    return Fault(
        "heel_stitches",
        heel_stitches,
        f"{rounds} decrease rounds of {decreases_per_round} leave too little to close; these "
        f"stitches allow at most {max(most, 0)} decrease rounds in all",
    )
