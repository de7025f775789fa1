"""The foot: a registry of measurements, with what a survey says of each.

Adding a measurement means adding one entry to `MEASUREMENTS`: the JSON schema, the CSV column and
the table in README follow, and tests name the table column and the migration that are still to do.

References
----------
Figures: computed from the public files of the 2012 US Army Anthropometric Survey (Gordon et al.
2014, NATICK/TR-15/007), 1,986 women and 4,082 men aged 17 to 58. The heel diagonal is the
survey's heel-ankle circumference, the foot circumference its ball-of-foot circumference.

"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from models.domain.quantities import Quantity


@dataclass(frozen=True)
class Figures:
    """Mean and sd in mm, and the correlation with every earlier measurement of the registry."""

    mean: float
    sd: float
    correlations: tuple[float, ...]


@dataclass(frozen=True)
class Measurement(Quantity):
    """A length on the foot in mm, with the survey's figures for women and for men."""

    women: Figures = Figures(0, 1, ())
    men: Figures = Figures(0, 1, ())


SURVEY_COUNTS = {"women": 1986, "men": 4082}

MEASUREMENTS = (
    Measurement(
        "foot_length_mm",
        60,
        400,
        "mm",
        "Heel to the tip of the longest toe, standing; measure both feet, use the longer.",
        women=Figures(246.293, 12.436, ()),
        men=Figures(271.178, 13.103, ()),
    ),
    Measurement(
        "foot_circumference_mm",
        60,
        400,
        "mm",
        "Tape around the ball of the foot, standing.",
        women=Figures(228.110, 11.771, (0.60553,)),
        men=Figures(252.017, 12.936, (0.59711,)),
    ),
    Measurement(
        "heel_diagonal_mm",
        80,
        520,
        "mm",
        "Tape around the back of the heel and the front of the ankle bend.",
        required=False,
        women=Figures(310.321, 15.307, (0.80290, 0.73949)),
        men=Figures(343.473, 16.620, (0.79363, 0.74680)),
    ),
    Measurement(
        "ankle_circumference_mm",
        60,
        400,
        "mm",
        "Smallest, above the ankle bones.",
        required=False,
        women=Figures(215.740, 14.892, (0.42835, 0.59028, 0.64545)),
        men=Figures(229.344, 14.649, (0.48909, 0.68229, 0.71904)),
    ),
)

MEASUREMENT_NAMES = tuple(measurement.name for measurement in MEASUREMENTS)

Foot = Mapping[str, float]
"""The measurements that were taken, in mm, by registry name; what was not taken is absent."""
