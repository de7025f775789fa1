"""What a designer should know before trusting a default: why it is what it is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from models.domain.wording import counted
from models.learning.calibration import FEWEST_REPORTERS_SHOWN, Calibration
from models.learning.caveats import Caveat, wider_pool_alone
from models.learning.defaults import Default, Defaults
from models.learning.splitting import Split
from models.learning.target_feet import RARE

_LEANS = 0.1
_NAMES = {
    "foot_length_mm": "a foot length",
    "foot_circumference_mm": "a foot circumference",
    "heel_diagonal_mm": "a heel diagonal",
    "ankle_circumference_mm": "an ankle circumference",
}


@dataclass(frozen=True)
class Standing:
    """How many reports, of how many people, stand behind something."""

    reports: int
    people: int

    @property
    def shown(self) -> bool:
        """Whether enough people stand behind it for its figures to be shown."""
        return self.people == 0 or self.people >= FEWEST_REPORTERS_SHOWN


@dataclass(frozen=True)
class SizeStanding:
    """What stands behind one size: reports that name it, and reports on feet in its range.

    `contradicting` is only ever set where enough people named it.
    """

    named: Standing
    in_range: Standing
    contradicting: bool = False


def caveats_for_default(
    found: Defaults, default: Default, standing: SizeStanding
) -> tuple[Caveat, ...]:
    """Return the caveats that apply to the default of one size."""
    return (
        *_calibration(found.calibration, established=found.established),
        *_standing(found.calibration, standing),
        *_yarn(found.calibration, default),
        *_feet(default),
        *_depth(default),
        *_neighbours(default),
        *(_split(split) for split in [default.split] if split is not None),
    )


def _calibration(calibration: Calibration, *, established: bool) -> Iterator[Caveat]:
    if calibration.outdated:
        yield Caveat(
            "calibrate_again",
            "Another version of this service made the active calibration, so these defaults are "
            "geometry's alone. Calibrate again.",
        )
    elif calibration.is_geometry:
        yield Caveat(
            "geometry_alone",
            "No report stands behind this default: it is geometry's and the foot survey's alone.",
        )
    elif not calibration.reports:
        yield wider_pool_alone("default")
    if not established:
        yield Caveat(
            "cannot_tell",
            "The reports do not establish that a deeper heel is felt as deeper, so this default is "
            "geometry's alone. Ask whether scores were given the wrong way round.",
        )


def _standing(calibration: Calibration, standing: SizeStanding) -> Iterator[Caveat]:
    if not calibration.reports:
        return
    if not standing.named.people:
        others = "reports on feet in its range and on" if standing.in_range.people else "those on"
        yield Caveat(
            "no_reports",
            f"No report names this size: what is known of it comes from {others} other sizes, and "
            "from geometry.",
        )
    elif not standing.named.shown:
        yield Caveat(
            "too_few_people",
            f"Too few people yet: fewer than {FEWEST_REPORTERS_SHOWN} have reported on this size, "
            "so the other sizes and geometry weigh more than they do.",
        )
    if standing.contradicting:
        yield Caveat(
            "contradicting_reports",
            "The reports on this size contradict each other more than people usually do, so they "
            "moved its default little. Ask whether all of them are about the same pattern.",
        )


def _yarn(calibration: Calibration, default: Default) -> Iterator[Caveat]:
    weights = calibration.seen.yarn_weights
    if weights and default.size.yarn_weight not in weights:
        yield Caveat(
            "extrapolating",
            f"Too few people have reported on yarn weight {default.size.yarn_weight} yet.",
        )


def _feet(default: Default) -> Iterator[Caveat]:
    feet = default.size.feet
    if not feet.people and feet.survey_share < RARE:
        yield Caveat(
            "beyond_the_survey",
            "Hardly any foot of the survey, which measured adults only, lies in this size's range: "
            "its feet are extrapolated.",
        )


def _depth(default: Default) -> Iterator[Caveat]:
    best, shares = default.best, default.best.shares
    leaning = float(shares.too_shallow - shares.too_deep)
    if best.slow_decrease_rounds == default.size.most and leaning > _LEANS:
        yield Caveat(
            "too_few_stitches",
            f"These stitches reach {best.depth_mm:.0f} mm with slow-decrease rounds alone, and "
            "most of its feet ask for more. Add plain rounds, or begin with more stitches.",
        )
    if best.slow_decrease_rounds == 0 and leaning < -_LEANS:
        yield Caveat(
            "already_deep_enough",
            f"Without slow-decrease rounds this heel is {best.depth_mm:.0f} mm deep, and most of "
            "its feet ask for less. Leave out plain rounds or medium decrease rounds.",
        )


def _neighbours(default: Default) -> Iterator[Caveat]:
    if default.falls_back:
        yield Caveat(
            "falls_back",
            "The reports say that this size needs fewer slow-decrease rounds than the smaller one "
            "before it, although geometry asks for at least as many.",
        )
    alone, best = default.alone.slow_decrease_rounds, default.best.slow_decrease_rounds
    if alone != best:
        yield Caveat(
            "graded",
            f"Alone this size would have {counted(alone, 'slow-decrease round')}; {best} keep it "
            "in line with its neighbours.",
        )


def _split(split: Split) -> Caveat:
    side = "Above" if split.above else "Below"
    change = "add one" if split.change > 0 else "leave out one"
    return Caveat(
        "one_heel_for_too_many",
        f"One heel does not serve this whole size. {side} {_NAMES[split.measurement]} of "
        f"{split.cut_mm:.0f} mm {change}: of 100 people, {100 * split.gain:.0f} more would then "
        "have a heel that is just right.",
    )
