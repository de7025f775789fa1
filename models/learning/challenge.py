"""Champion and challenger: whether a new calibration may answer without anybody looking at it.

It is compared with the active calibration and with geometry alone on reports of people it has not
met, by the log score of what was reported and by how often the socks that were worked as it wants
them were just right. The active one is also compared on the reports that it knew: spoiled reports
are foreseen best by who learned from reports spoiled alike, so newly come ones cannot be judge.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from scipy.special import stdtrit

from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.learning.evidence import Evidence, people
from models.learning.folds import Rows, compared_rows
from models.learning.gaps import (
    ALL_REPORTS,
    JUST_RIGHT,
    KNOWN_REPORTS,
    LOG_SCORE,
    Contest,
    Gap,
)
from models.learning.held_out import Foreseen, geometry_foresees, learned_from
from models.learning.weights import capped_weights
from models.learning.wider import Wider

ACTIVE, GEOMETRY = "the active calibration", "geometry alone"

TOLERANCE = {LOG_SCORE: 0.02, JUST_RIGHT: 0.05}
"""Differences that nobody would notice: nats a report, and share of socks."""

FALSE_ALARMS = 0.05
"""Chance, at most, that a calibration which is nowhere worse looks worse by more than chance; half
of it is for the comparisons over all socks and half for those in bands, shared out evenly
(Bonferroni). The comparisons resemble each other and the tolerance comes on top: in
`.bench/challenge.py` about one sound calibration in a hundred waited."""

BECOMES_ACTIVE, WAITS = "becomes active", "waits"

TOO_FEW = "too few people to compare"


@dataclass(frozen=True)
class Challenge:
    """How a new calibration compares: all gaps, those that are worse, and what it rests on.

    `compared` are the reports that were compared and `foreseen` what was said of them, neither
    where there were too few people.
    """

    gaps: tuple[Gap, ...] = ()
    worse: tuple[Gap, ...] = ()
    compared: Evidence | None = None
    foreseen: Foreseen | None = None

    @property
    def passed(self) -> bool:
        """Whether it may answer."""
        return not self.worse

    def to_json(self) -> dict[str, Any]:
        """Return verdict, reasons and figures as JSON values; nothing is about few people."""
        return {
            "verdict": BECOMES_ACTIVE if self.passed else WAITS,
            "reasons": reasons(self),
            "gaps": [_stored(gap) for gap in self.gaps if gap.storable],
        }


@dataclass(frozen=True)
class BeganWith:
    """The wider pools, if any, that the new calibration and the active one began with."""

    mine: Wider | None = None
    theirs: Wider | None = None

    @property
    def same(self) -> bool:
        """Whether both began with the same."""
        if self.mine is None:
            return self.theirs is None
        return self.mine.says_the_same_as(self.theirs)


GEOMETRY_ALONE = BeganWith()


def challenge(
    evidence: Evidence, known: Rows | None, began_with: BeganWith = GEOMETRY_ALONE
) -> Challenge:
    """Compare a calibration of the evidence with the active one and with geometry alone.

    Parameters
    ----------
    evidence : Evidence
        What the new calibration rests on.
    known : None or array (n,)
        The rows that the active calibration had seen; None where geometry alone is active.
    began_with : BeganWith
        Wider pools; none on either side unless given.

    """
    rows = compared_rows(evidence.reporter)
    seen = None if known is None else known[rows]
    return challenge_on(evidence.only(rows), seen, began_with)


def challenge_on(
    compared: Evidence, known: Rows | None, began_with: BeganWith = GEOMETRY_ALONE
) -> Challenge:
    """Compare as `challenge` does, on the reports of a pool that were chosen to be compared.

    `known` (n,) are those of them that the active calibration had seen.
    """
    if compared.reporters < FEWEST_REPORTERS_SHOWN:
        return Challenge()
    everything = np.ones(compared.reports, dtype=bool)
    foreseen = learned_from(compared, everything, began_with.mine)
    gaps = tuple(_gaps(compared, foreseen, known, began_with))
    return Challenge(gaps, tuple(worse(gaps)), compared, foreseen)


def worse(gaps: Sequence[Gap]) -> Iterator[Gap]:
    """Yield the gaps below minus their tolerance by more than chance explains."""
    for gap in gaps:
        alike = sum((gap.band is None) == (other.band is None) for other in gaps)
        errors = -float(stdtrit(gap.people - 1, FALSE_ALARMS / 2 / alike))
        if gap.value < -max(TOLERANCE[gap.measure], errors * gap.standard_error):
            yield gap


def reasons(judged: Challenge) -> list[str]:
    """Return sentences that say why a calibration becomes active or waits."""
    if judged.compared is None:
        return [TOO_FEW]
    if judged.worse:
        return [_sentence(gap) for gap in judged.worse]
    bands = len({(gap.kind, gap.band) for gap in judged.gaps if gap.band is not None})
    against = " and ".join(dict.fromkeys(gap.against for gap in judged.gaps))
    where = f"overall and in {bands} bands of 20 or more people" if bands else "overall"
    summary = f"not worse than {against}, {where}"
    whole = (gap for gap in judged.gaps if gap.band is None and gap.storable)
    return [summary, *map(_sentence, whole)]


def _gaps(
    evidence: Evidence, mine: Foreseen, known: Rows | None, began_with: BeganWith
) -> Iterator[Gap]:
    weight = capped_weights(evidence.reporter)
    everything = np.ones(evidence.reports, dtype=bool)
    if known is not None and people(evidence.reporter, known) >= FEWEST_REPORTERS_SHOWN:
        alike = known.all() and began_with.same
        theirs = mine if alike else learned_from(evidence, known, began_with.theirs)
        contest = Contest(evidence, weight, mine, theirs, ACTIVE)
        yield from contest.gaps(ALL_REPORTS, everything)
        if not known.all():
            yield from contest.gaps(KNOWN_REPORTS, known)
    geometry = Contest(evidence, weight, mine, geometry_foresees(evidence), GEOMETRY)
    yield from geometry.gaps(ALL_REPORTS, everything)


_SAID = {LOG_SCORE: "log score {:+.3f} nats a report", JUST_RIGHT: "share just right {:+.2f}"}


def _sentence(gap: Gap) -> str:
    """Return what a gap says, without figures where they could tell of few people."""
    where = gap.scope if gap.band is None else f"{gap.scope}, {_band(gap)}"
    if not gap.storable:
        return f"against {gap.against}, {where}: {gap.measure} is worse"
    figures = _SAID[gap.measure].format(gap.value)
    return (
        f"against {gap.against}, {where}: {figures} (standard error {gap.standard_error:.3f}; "
        f"{gap.reports} reports of {gap.people} people)"
    )


def _band(gap: Gap) -> str:
    return f"{str(gap.kind).removesuffix('_mm').replace('_', ' ')} {gap.band}"


def _stored(gap: Gap) -> dict[str, Any]:
    return {name: value for name, value in asdict(gap).items() if name != "storable"}
