"""What a knitter should know before trusting an answer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from models.domain.errors import Fault
from models.domain.gauge import doubts_about_gauge
from models.domain.plausibility import doubts_about_foot
from models.domain.yarn import doubt_about_yarn
from models.learning.calibration import Calibration
from models.learning.evidence import Evidence
from models.learning.question import Question
from models.learning.suggest import Answer

BEYOND = 3.0
"""Sds from the mean of what was seen beyond which an answer extrapolates."""

LEAST_SPREAD = 0.01
"""Least sd, as a share of the mean: where all reports say the same, others measure it no better."""


TIGHTEST_EASE, LOOSEST_EASE = -0.30, 0.05
"""Ease around the foot outside of which stitches, gauge or foot are likely mistaken.

5 to 15 % of negative ease is usual (common practice, no source).
"""


@dataclass(frozen=True)
class Caveat:
    """A warning: a short code that scripts can test and a sentence that people can read."""

    code: str
    text: str


def caveats_for(calibration: Calibration, question: Question, answer: Answer) -> tuple[Caveat, ...]:
    """Return the caveats that apply to an answer."""
    return (
        *_evidence(calibration, answer),
        *_estimated_diagonal(answer),
        *_stitches(question, answer),
        *_extrapolating(calibration, question),
        *_doubts(question),
    )


def caveats_for_personal(own: Evidence) -> tuple[Caveat, ...]:
    """Return the caveats of a personal answer that rests on somebody's own reports."""
    if own.reports:
        return ()
    return (
        Caveat(
            "no_reports_of_yours",
            "No report of yours counts yet, so there is no personal answer. Report a finished sock "
            "and ask again.",
        ),
    )


def _evidence(calibration: Calibration, answer: Answer) -> Iterator[Caveat]:
    if calibration.outdated:
        yield Caveat(
            "calibrate_again",
            "Another version of this service made the active calibration, so this answer is "
            "geometry's alone. Calibrate again.",
        )
    elif calibration.is_geometry:
        yield Caveat(
            "geometry_alone",
            "No report stands behind this answer: it is geometry's alone. Where there are reports, "
            "calibrate.",
        )
    elif not calibration.reports:
        yield wider_pool_alone("answer")
    if not answer.established:
        yield Caveat(
            "cannot_tell",
            "The reports do not establish that a deeper heel is felt as deeper, so this answer is "
            "geometry's alone. Ask whether scores were given the wrong way round.",
        )


def wider_pool_alone(what: str) -> Caveat:
    """Return the caveat of an answer or a default that no report of the group stands behind."""
    return Caveat(
        "wider_pool_alone",
        f"No report of this group stands behind this {what}: it rests on geometry and on what "
        "other groups have learned.",
    )


def _estimated_diagonal(answer: Answer) -> Iterator[Caveat]:
    diagonal = answer.heel_diagonal
    if not diagonal.measured:
        yield Caveat(
            "estimated_heel_diagonal",
            f"The heel diagonal was not measured; {diagonal.value:.0f} mm was taken, give or take "
            f"{diagonal.sd:.0f}. Measuring it would make the answer surer.",
        )


def _stitches(question: Question, answer: Answer) -> Iterator[Caveat]:
    deepest, shallowest = answer.candidates[-1], answer.candidates[0]
    medium = answer.schedule.counts["medium_decrease_rounds"]
    wanted = question.policy.medium_decrease_rounds
    if medium < wanted:
        yield Caveat(
            "fewer_medium_rounds",
            f"So many slow-decrease rounds leave room for {medium} medium decrease rounds, not "
            f"the {wanted} that were wanted.",
        )
    if answer.wanted_depth_mm > deepest.depth_mm:
        yield Caveat(
            "too_few_stitches",
            f"This foot asks for a heel {answer.wanted_depth_mm:.0f} mm deep, but these stitches "
            f"reach {deepest.depth_mm:.0f} mm with slow-decrease rounds alone. Add plain rounds, "
            "or begin with more stitches.",
        )
    if answer.wanted_depth_mm < shallowest.depth_mm:
        yield Caveat(
            "already_deep_enough",
            f"This foot asks for a heel {max(answer.wanted_depth_mm, 0):.0f} mm deep, and these "
            f"stitches make {shallowest.depth_mm:.0f} mm without slow-decrease rounds. Leave out "
            "plain rounds or medium decrease rounds.",
        )


def _extrapolating(calibration: Calibration, question: Question) -> Iterator[Caveat]:
    asked = {**question.foot, "stitches_per_10cm": question.gauge.stitches_per_10cm}
    for name, (mean, sd) in calibration.seen.figures.items():
        spread = max(sd, LEAST_SPREAD * mean)
        if name in asked and abs(asked[name] - mean) > BEYOND * spread:
            yield Caveat(
                "extrapolating",
                f"{name} {asked[name]:.4g}{_unit(name)} is far from what this rests on, mostly "
                f"{mean - 2 * spread:.0f} to {mean + 2 * spread:.0f}{_unit(name)}.",
            )
    weights = calibration.seen.yarn_weights
    if weights and question.yarn_weight not in weights:
        yield Caveat(
            "extrapolating",
            f"Too few people have reported on yarn weight {question.yarn_weight} yet.",
        )


def _unit(name: str) -> str:
    """Return the unit of a field; the names of counts say over how much."""
    return " mm" if name.endswith("_mm") else ""


def _doubts(question: Question) -> Iterator[Caveat]:
    yarn = doubt_about_yarn(question.yarn_weight, question.gauge.stitches_per_10cm)
    doubts = (
        *doubts_about_foot(question.foot),
        *doubts_about_gauge(question.gauge),
        *([yarn] if yarn else []),
        *_tube(question),
    )
    for doubt in doubts:
        yield Caveat("check_measurements", str(doubt))


def _tube(question: Question) -> Iterator[Fault]:
    """Doubt a sock that is looser than the foot, or far tighter."""
    stitches = question.policy.heel_stitches
    around = stitches * question.gauge.stitch_mm
    foot = question.foot["foot_circumference_mm"]
    if not TIGHTEST_EASE <= around / foot - 1 <= LOOSEST_EASE:
        wanted = f"makes a sock {around:.0f} mm around for a foot of {foot:g} mm; check both"
        yield Fault("heel_stitches", stitches, wanted)
