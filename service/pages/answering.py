"""The answer that a page shows: the JSON answer, and its schedule worked out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby
from typing import Any

from models.actions.answers import answered
from models.domain.gauge import Gauge
from models.domain.instructions import Step
from models.domain.schedule import Round, Schedule
from models.domain.sections import COUNT_NAMES
from models.domain.units import to_mm
from models.domain.wording import counted
from models.domain.worksheet import Worksheet, worksheet
from models.learning.calibration import geometry_alone
from models.learning.question import Question
from service.pages.kept import USUAL_WIDTHS, WIDTHS
from service.pages.words import chance_in_words, length, spoken

DOUBT = "check_measurements"
SAID_ELSEWHERE = frozenset({"geometry_alone", "estimated_heel_diagonal"})
"""Warnings that the page says in its own words: what the answer rests on, what would narrow it."""

FINISHED_ALONE = (
    "Finished socks: note how many rounds you worked and how the heel fits once washed and worn. "
    "A group that pools such reports gets answers from them."
)
FINISHED_IN_A_GROUP = "Finished socks: tell the group how this heel fits, once washed and worn."


def from_geometry(question: Question) -> dict[str, Any]:
    """Return the API's answer without any group, which nobody keeps."""
    return answered(geometry_alone(), question)


@dataclass(frozen=True)
class Shown:
    """An answer as a page shows it; `unit` is what its reader measures in.

    `in_group` says that a group gave it and keeps it.
    """

    answer: Mapping[str, Any]
    unit: str
    in_group: bool = False

    @cached_property
    def sheet(self) -> Worksheet:
        """The suggested schedule, worked out for the foot."""
        told = self.answer["schedule"]
        counts = {name: told[name] for name in COUNT_NAMES}
        schedule = Schedule(told["heel_stitches"], counts, told["decreases_per_round"])
        gauge = Gauge(told["stitches_per_10cm"], told["rounds_per_10cm"])
        return worksheet(schedule, gauge, told["foot"])

    @property
    def candidates(self) -> list[Mapping[str, Any]]:
        """Every number of slow-decrease rounds whose chance the answer tells."""
        return list(self.answer.get("curve") or self.answer["neighbours"])

    @property
    def warnings(self) -> list[str]:
        """What a knitter should know before trusting the answer."""
        told = self.answer["warnings"]
        return [spoken(one["text"]) for one in told if one["code"] not in SAID_ELSEWHERE]

    @property
    def doubts(self) -> list[str]:
        """What is unusual about the entries."""
        told = self.answer["warnings"]
        return [spoken(one["text"]) for one in told if one["code"] == DOUBT]

    @property
    def estimated(self) -> str:
        """What is said of a heel diagonal that was not measured; nothing of one that was."""
        diagonal = self.answer["heel_diagonal"]
        if diagonal["measured"]:
            return ""
        value, sd = (length(diagonal[name], self.unit) for name in ("value_mm", "sd_mm"))
        return f"The heel diagonal was not measured: {value} was estimated, give or take {sd}."

    @property
    def narrowing(self) -> Iterator[str]:
        """What would make the answer surer."""
        if worth := self.answer.get("worth_measuring"):
            now, then = worth["range_rounds_now"], worth["range_rounds_then"]
            yield (
                f"Measure the {spoken(worth['measurement']).lower()}: the range of the best number "
                f"would narrow from about {now:g} to {then:g} rounds."
            )
        elif self.estimated:
            yield "Measure the heel diagonal."
        yield FINISHED_IN_A_GROUP if self.in_group else FINISHED_ALONE

    @property
    def others(self) -> str:
        """How the heels that are not just right are wrong, where the answer tells."""
        if "chance_too_shallow" not in self.answer:
            return ""
        shallow, deep = (
            chance_in_words(self.answer[name]) for name in ("chance_too_shallow", "chance_too_deep")
        )
        return f"{shallow.capitalize()} are too shallow, {deep} too deep."

    @property
    def finer(self) -> str:
        """A better choice with other plain rounds, where the answer knows one."""
        fine = self.answer.get("fine_adjustment")
        if not fine:
            return ""
        plain = counted(fine["plain_rounds"], "plain round")
        slow = counted(fine["slow_decrease_rounds"], "slow-decrease round")
        return (
            f"Finer: {plain} and {slow} make a heel {length(fine['depth_mm'], self.unit)} deep; "
            f"{chance_in_words(fine['chance_just_right'])} such heels are just right. Change the "
            "plain rounds for its schedule."
        )

    @property
    def personal(self) -> str:
        """What suits the asker going by own reports, where that was asked for and is known."""
        own = self.answer.get("personal")
        if not own:
            return ""
        rounds = counted(own["slow_decrease_rounds"], "slow-decrease round")
        return (
            f"Going by {counted(own['reports'], 'report')} of your own, {rounds} would suit you: a "
            f"heel {length(own['depth_mm'], self.unit)} deep, and "
            f"{chance_in_words(own['chance_just_right'])} such heels just right for you. That may "
            "be taste or a way of scoring, so the answer above is still that of all."
        )

    @property
    def gauge(self) -> str:
        """The gauge, over the width that its reader counts on."""
        gauge, (width, unit) = self.sheet.gauge, WIDTHS[USUAL_WIDTHS[self.unit]]
        stitches, rounds = (
            round(per_10cm * to_mm(width, unit) / 100, 1)
            for per_10cm in (gauge.stitches_per_10cm, gauge.rounds_per_10cm)
        )
        return f"{stitches:g} stitches and {rounds:g} rounds in {width:g} {unit}"

    @property
    def waste_yarn(self) -> tuple[str, ...]:
        """How to find the waste-yarn line, measured as its reader does; nothing without a foot."""
        if self.sheet.fitting is None or self.sheet.fitting.waste_yarn is None:
            return ()
        placed, unit = self.sheet.fitting.waste_yarn, "in" if self.unit == "in" else "mm"
        return placed.toe_up_in(unit), placed.cuff_down_in(unit)

    @property
    def ticks(self) -> str:
        """A name for this schedule, under which a browser keeps the rounds that are ticked off."""
        schedule = self.sheet.schedule
        return "-".join(map(str, (schedule.heel_stitches, *schedule.counts.values())))

    @property
    def parts(self) -> Iterator[tuple[Step, list[Round]]]:
        """Every part of the written instructions with its rounds."""
        rounds = {
            section: list(group)
            for section, group in groupby(self.sheet.schedule.rounds(), lambda one: one.section)
        }
        for step in self.sheet.steps:
            yield step, rounds.get(step.section, [])
