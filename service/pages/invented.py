"""The invented foot that shows what an answer looks like; nobody has it."""

from __future__ import annotations

from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.learning.question import Question

INVENTED = Question(
    foot={
        "foot_length_mm": 246.0,
        "foot_circumference_mm": 231.0,
        "heel_diagonal_mm": 312.0,
        "ankle_circumference_mm": 218.0,
    },
    yarn_weight=1,
    gauge=Gauge(30, 42),
    policy=Policy(heel_stitches=64, closing_stitches=16, medium_decrease_rounds=4),
)
