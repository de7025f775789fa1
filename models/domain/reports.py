"""A report: one finished sock on one foot, with its fit score."""

from __future__ import annotations

from models.domain.foot import MEASUREMENTS
from models.domain.quantities import (
    DECREASES_PER_ROUND,
    FIT_SCORE,
    GAUGE,
    HEEL_STITCHES,
    TIMES_WASHED,
    TIMES_WORN,
    YARN_WEIGHT,
    Quantity,
)
from models.domain.sections import SECTIONS

SOCK: tuple[Quantity, ...] = (
    YARN_WEIGHT,
    *GAUGE,
    HEEL_STITCHES,
    *(section.count for section in SECTIONS),
    FIT_SCORE,
)
"""What a report says of the sock, besides the foot and the reporter."""


def _symptom(name: str, text: str) -> Quantity:
    return Quantity(name, 0, 1, "", f"{text} 1 yes, 0 no.", integer=True, required=False)


SYMPTOMS: tuple[Quantity, ...] = (
    _symptom("pulls_at_instep", "It pulls across the instep."),
    _symptom("slides_down", "It slides down into the shoe."),
    _symptom("bags_under_heel", "It bags under the heel."),
    _symptom("bags_behind_heel", "It bags behind the heel."),
    _symptom("holes_at_corners", "It has holes where the heel begins."),
    _symptom("worn_through", "The heel is worn through."),
)
"""What may be seen of a heel beside its fit score: where it pulls, slides, bags or has holes."""

AFTERWARDS: tuple[Quantity, ...] = (TIMES_WASHED, TIMES_WORN, *SYMPTOMS)
"""What a report may add when the sock has been used."""

OPTIONAL_NUMBERS: tuple[Quantity, ...] = (*AFTERWARDS, DECREASES_PER_ROUND)

USUAL_COLUMNS = ("reporter", *(q.name for q in (*MEASUREMENTS, *SOCK)))
"""CSV columns that must be there, but for measurements that are not required of a foot."""

OPTIONAL_COLUMNS = (
    "decreases_per_round",
    "design",
    "size",
    "knitted_on",
    *(quantity.name for quantity in AFTERWARDS),
    "notes",
)

LONGEST = {"reporter": 80, "design": 80, "size": 40, "notes": 2000}
"""Longest text of each column, in characters."""
