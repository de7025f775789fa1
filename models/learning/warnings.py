"""What a knitter should know before trusting an answer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from models.domain.foot import MEASUREMENTS
from models.domain.gauge import doubts_about_gauge
from models.domain.plausibility import doubts_about_foot
from models.domain.yarn import unusual_for
from models.learning.calibration import Calibration
from models.learning.suggest import Answer, Question

BEYOND = 3.0
"""Sds from the mean of what was seen beyond which an answer extrapolates."""


@dataclass(frozen=True)
class Warning:  # noqa: A001 - the trade's word for it; nothing here touches the built-in
    """A warning: a short code that scripts can test and a sentence that people can read."""

    code: str
    text: str


def warnings_for(
    calibration: Calibration, question: Question, answer: Answer
) -> tuple[Warning, ...]:
    """Return the warnings that apply to an answer."""
    return (
        *_no_range(answer),
        *_estimated_diagonal(answer),
        *_stitches(answer),
        *_extrapolating(calibration, question),
        *_doubts(question),
    )


def _no_range(answer: Answer) -> Iterator[Warning]:
    if answer.unrounded is None:
        yield Warning(
            "cannot_tell",
            "The reports do not establish that a deeper heel scores higher, so any number of "
            "slow-decrease rounds could be right.",
        )


def _estimated_diagonal(answer: Answer) -> Iterator[Warning]:
    diagonal = answer.heel_diagonal
    if not diagonal.measured:
        yield Warning(
            "estimated_heel_diagonal",
            f"The heel diagonal was not measured; {diagonal.value:.0f} mm was taken, give or take "
            f"{diagonal.sd:.0f}. Measuring it would make the answer surer.",
        )


def _stitches(answer: Answer) -> Iterator[Warning]:
    deepest, shallowest = answer.candidates[-1], answer.candidates[0]
    if answer.wanted_depth_mm > deepest.depth_mm:
        yield Warning(
            "too_few_stitches",
            f"This foot asks for a heel {answer.wanted_depth_mm:.0f} mm deep, but these stitches "
            f"reach {deepest.depth_mm:.0f} mm with slow-decrease rounds alone. Add plain rounds, "
            "or begin with more stitches.",
        )
    if answer.wanted_depth_mm < shallowest.depth_mm:
        yield Warning(
            "already_deep_enough",
            f"This foot asks for a heel {max(answer.wanted_depth_mm, 0):.0f} mm deep, and these "
            f"stitches make {shallowest.depth_mm:.0f} mm without slow-decrease rounds. Leave out "
            "plain rounds or medium decrease rounds.",
        )


def _extrapolating(calibration: Calibration, question: Question) -> Iterator[Warning]:
    for measurement in MEASUREMENTS:
        value = question.foot.get(measurement.name)
        mean, sd = calibration.seen.measurements[measurement.name]
        if value is not None and abs(value - mean) > BEYOND * sd:
            yield Warning(
                "extrapolating",
                f"{measurement.name} {value:g} is far from the feet this rests on (about "
                f"{mean:.0f}, sd {sd:.0f}).",
            )
    weights = calibration.seen.yarn_weights
    if weights and question.yarn_weight not in weights:
        yield Warning("extrapolating", f"No report is on yarn weight {question.yarn_weight} yet.")


def _doubts(question: Question) -> Iterator[Warning]:
    for fault in (*doubts_about_foot(question.foot), *doubts_about_gauge(question.gauge)):
        yield Warning("check_measurements", str(fault))
    unusual = unusual_for(question.yarn_weight, question.gauge.stitches_per_10cm)
    if unusual:
        yield Warning("check_measurements", unusual)
