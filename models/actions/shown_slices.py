"""Which slices of the reports a calibration may show, beside those that were shown before.

The mean score of a slice would tell of whoever is new in it or gone from it. So each slice is
judged by itself: it stays as it was shown last until ten people's reports in it are others. Where
what was shown last holds somebody who is erased, it is shown no more, and the slice waits.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.publishing import renewed, withdraw
from models.tables.erased import ShownSlice
from models.tables.learned import Calibration

Slice = Mapping[str, Any]
People = Mapping[str, str]

Before = tuple[int, People, int]
"""A slice that was shown with people who are erased: number, who is left, how many went."""


def with_people(one: Slice, member_of: Callable[[int], str]) -> dict[str, Any]:
    """Return a slice of evidence as it is stored: `people` are members, with what each said."""
    kept = {name: value for name, value in one.items() if name != "rows"}
    return kept | {"people": {member_of(who): said for who, said in one["rows"]}}


def to_show(session: Session, group_id: str, fresh: Sequence[Slice]) -> list[dict[str, Any]]:
    """Return the slices that a new calibration of a group may show."""
    shown = [one for _, slices in _shown(session, group_id) for one in slices]
    query = select(ShownSlice).where(ShownSlice.group_id == group_id)
    forgotten = [(row.number, row.people, row.erased) for row in session.scalars(query)]
    return released(fresh, shown, forgotten)


def released(
    fresh: Sequence[Slice], shown: Sequence[Slice], forgotten: Sequence[Before] = ()
) -> list[dict[str, Any]]:
    """Return the slices to show: fresh ones, or as they were shown last.

    Parameters
    ----------
    fresh : sequence of mappings
        The slices of a new calibration, as `with_people` made them.
    shown : sequence of mappings
        Those of all calibrations shown before, oldest first.
    forgotten : sequence of (int, mapping, int)
        Those shown with people who are erased; they are never shown again.

    """
    latest = {one["number"]: one for one in shown}
    before: defaultdict[int, list[tuple[People, int]]] = defaultdict(list)
    for one in shown:
        before[one["number"]].append((one["people"], 0))
    for number, people, erased in forgotten:
        before[number].append((people, erased))
    for one in fresh:
        if all(renewed(one["people"], *other) for other in before[one["number"]]):
            latest[one["number"]] = one
    return [dict(latest[number]) for number in sorted(latest)]


def forget(
    session: Session, group_id: str, calibration_ids: Collection[str], gone: Collection[str]
) -> None:
    """Keep whom slices rested on that are about to be shown no more, and take those away.

    They are the slices of calibrations that are about to be erased, and those with somebody who is,
    which a calibration without that somebody may have carried on.
    """
    going = withdraw(_shown(session, group_id), calibration_ids, gone, _leave)
    kept: list[tuple[int, People]] = [(one["number"], one["people"]) for one in going]
    for number, people in (one for place, one in enumerate(kept) if one not in kept[:place]):
        session.add(ShownSlice(group_id=group_id, number=number, people=people, erased=0))
    session.flush()


def _leave(row: Calibration, slices: Sequence[Slice]) -> None:
    diagnostics = row.diagnostics or {}
    row.diagnostics = {**diagnostics, "figures": {**diagnostics["figures"], "slices": slices}}


def _shown(session: Session, group_id: str) -> Iterator[tuple[Calibration, Sequence[Slice]]]:
    """Yield the calibrations of a group whose slices were shown, oldest first, with those."""
    rows = session.scalars(
        select(Calibration)
        .where(Calibration.group_id == group_id, Calibration.published.is_(True))
        .order_by(Calibration.number)
    )
    for row in rows:
        figures = (row.diagnostics or {}).get("figures") or {}
        yield row, figures.get("slices", [])
