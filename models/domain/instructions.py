"""A schedule as instructions that a knitter can follow."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from models.domain.closing import CLOSINGS, USUAL_CLOSING
from models.domain.decreasing import decrease_round, even_out
from models.domain.pickup import PickUp
from models.domain.schedule import Round, Schedule
from models.domain.sections import SECTIONS, Section
from models.domain.wording import counted, listed, span


@dataclass(frozen=True)
class Step:
    """One part of the written instructions.

    `first_round` and `last_round` are None for steps without rounds (picking up, closing).
    """

    section: str
    text: str
    stitches_before: int
    stitches_after: int
    first_round: int | None = None
    last_round: int | None = None


def written(schedule: Schedule, close: str = USUAL_CLOSING) -> tuple[Step, ...]:
    """Return the steps of a heel, from picking up to closing."""
    return (
        _picking_up(schedule),
        *_sections(schedule),
        Step(
            "close",
            CLOSINGS[close](schedule.closing_stitches),
            schedule.closing_stitches,
            0,
        ),
    )


def _picking_up(schedule: Schedule) -> Step:
    pick_up = PickUp(schedule.heel_stitches)
    words = [*pick_up.paragraphs()]
    if schedule.closing_stitches < schedule.even_stitches:
        words.append(decrease_round(schedule.decreases_per_round, schedule.closing_stitches))
    return Step("pick up", "\n".join(words), 0, schedule.heel_stitches)


def _sections(schedule: Schedule) -> Iterator[Step]:
    sections = {section.key: section for section in SECTIONS}
    for key, group in groupby(schedule.rounds(), key=lambda one: one.section):
        rounds = list(group)
        yield Step(
            key,
            _words(sections[key], rounds, schedule),
            rounds[0].stitches_before,
            rounds[-1].stitches_after,
            rounds[0].number,
            rounds[-1].number,
        )


def _words(section: Section, rounds: list[Round], schedule: Schedule) -> str:
    covered = span(rounds[0].number, rounds[-1].number)
    if section.decreases:
        return f"{covered}: {_decreasing(section, rounds, schedule.decreases_per_round)}"
    knitted = f"{covered}: knit {counted(len(rounds), 'round')}"
    if rounds[0].decreases:
        lost, before = rounds[0].decreases, rounds[0].stitches_before
        return f"{knitted}. {even_out(lost, before, schedule.decreases_per_round)}"
    return f"{knitted} without decreases."


def _decreasing(section: Section, rounds: list[Round], each: int) -> str:
    left = [one.stitches_after for one in rounds if one.decreases]
    leaves = "The decrease rounds leave" if len(left) > 1 else "This leaves"
    return f"{_pace(section, len(left))} {leaves} {listed(left)} stitches{_quarters(left, each)}."


def _pace(section: Section, times: int) -> str:
    if not section.plain_before:
        return f"work {counted(times, 'decrease round')}{', one after another' * (times > 1)}."
    once = f"knit {counted(section.plain_before, 'round')} plain, then 1 decrease round"
    if times == 1:
        return f"{once}."
    return f"{once}; work these {section.rounds_each} rounds {counted(times, 'time')}."


def _quarters(left: list[int], each: int) -> str:
    """Name the stitches of a quarter where the four stay whole and equal."""
    if each != 4:
        return ""
    return f", that is {listed([stitches // 4 for stitches in left])} in each quarter"
