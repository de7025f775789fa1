"""The table a pattern prints: what is worked in every section, for all sizes side by side."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from models.domain.schedule import Schedule
from models.domain.sections import SECTIONS, Section

_EVERY = {1: "every round", 2: "one round in two", 4: "one round in four"}


@dataclass(frozen=True)
class Line:
    """One line of the table: what it is about, and a number for each size, by label."""

    title: str
    values: Mapping[str, int]

    def __str__(self) -> str:
        sizes = ", ".join(f"size {label}: {value}" for label, value in self.values.items())
        return f"{self.title} ({sizes})"


def pattern_table(schedules: Mapping[str, Schedule]) -> list[Line]:
    """Return the lines of a pattern's heel, for the schedule of each size, by label.

    >>> counts = {"plain_rounds": 3, "slow_decrease_rounds": 4, "medium_decrease_rounds": 2,
    ...           "fast_decrease_rounds": 5}
    >>> lines = pattern_table({"A": Schedule(60, counts), "B": Schedule(64, counts)})
    >>> print(lines[0], lines[2], sep="; ")
    Heel stitches (size A: 60, size B: 64); Slow section, decrease rounds, one round in four \
(size A: 4, size B: 4)

    """
    lines = [Line("Heel stitches", {k: one.heel_stitches for k, one in schedules.items()})]
    for section in SECTIONS:
        lines += _section(section, schedules)
    lines.append(Line("Rounds in all", {k: one.total_rounds for k, one in schedules.items()}))
    return [*lines, Line("Close over", {k: one.closing_stitches for k, one in schedules.items()})]


def _section(section: Section, schedules: Mapping[str, Schedule]) -> Iterator[Line]:
    counts = {label: one.counts[section.count.name] for label, one in schedules.items()}
    title = f"{section.key.capitalize()} section"
    if not section.decreases:
        yield Line(f"{title}, rounds", counts)
    else:
        yield Line(f"{title}, decrease rounds, {_EVERY[section.rounds_each]}", counts)
        if section.rounds_each > 1:
            rounds = {label: section.rounds_each * count for label, count in counts.items()}
            yield Line(f"{title}, rounds knitted", rounds)
    if section.decreases or any(one.remainder for one in schedules.values()):
        yield Line(f"{title}, stitches left", _left(section, schedules))


def _left(section: Section, schedules: Mapping[str, Schedule]) -> dict[str, int]:
    """Return the stitches on the needles when a section is done."""
    done = SECTIONS[: SECTIONS.index(section) + 1]
    return {label: _after(one, done) for label, one in schedules.items()}


def _after(schedule: Schedule, done: Sequence[Section]) -> int:
    decreased = sum(schedule.counts[s.count.name] for s in done if s.decreases)
    start = schedule.even_stitches if schedule.counts["plain_rounds"] else schedule.heel_stitches
    return start - schedule.decreases_per_round * decreased
