"""The rows of an invented group of many reports."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from models.domain.quantities import DECREASES_PER_ROUND
from models.domain.report_columns import EXAMPLE
from models.domain.reports import SOCK
from models.tables.base import now
from models.tables.learned import Suggestion
from models.tables.people import Group, Member, Person
from models.tables.socks import Foot, Report

GROUP = f"{1:032x}"
PERSON, MEMBER, FOOT, SUGGESTION, REPORT = range(1, 6)

_SOCK = {quantity.name: EXAMPLE[quantity.name] for quantity in (*SOCK, DECREASES_PER_ROUND)}
_FOOT = {"foot_length_mm": 250, "foot_circumference_mm": 230}
_ANSWER = {"slow_decrease_rounds": 4, "depth_mm": 60.0, "chance_just_right": 0.5, "schedule": {}}


def named(kind: int, number: int) -> str:
    """Return an id; those of a kind sort by number."""
    return f"{kind:08x}{number:024x}"


def rows(
    people: int, reports: int, *, held_each: int
) -> Iterator[tuple[Any, list[dict[str, Any]]]]:
    """Yield tables with the rows of a group in which everybody has about as many reports.

    Each report has a foot and a suggestion of its own, which every third followed; one of
    `held_each` is held. The first member is the steward.
    """
    here = {"group_id": GROUP}
    yield Group, [{"id": GROUP, "name": "Invented many", "version": 1}]
    yield Person, [{"id": named(PERSON, n)} for n in range(people)]
    yield (
        Member,
        [
            {
                "id": named(MEMBER, n),
                "person_id": named(PERSON, n),
                "name": f"Invented {n}",
                "role": "steward" if n == 0 else "knitter",
                "version": 1,
                **here,
            }
            for n in range(people)
        ],
    )
    own = [{"member_id": named(MEMBER, n % people), **here} for n in range(reports)]
    yield Foot, [{"id": named(FOOT, n), **_FOOT, **own[n]} for n in range(reports)]
    asked = {"question": {"yarn_weight": 1}, "answer": _ANSWER}
    yield Suggestion, [{"id": named(SUGGESTION, n), **asked, **own[n]} for n in range(reports)]
    moment = now()
    yield (
        Report,
        [
            {
                "id": named(REPORT, n),
                "foot_id": named(FOOT, n),
                "suggestion_id": named(SUGGESTION, n) if n % 3 == 0 else None,
                "status": "held" if n % held_each == 0 else "counted",
                "version": 1,
                "created_at": moment,
                "updated_at": moment,
                **_SOCK,
                **own[n],
            }
            for n in range(reports)
        ],
    )
