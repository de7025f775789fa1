"""The record of what answered reads, without some calibrations, as if they had never been."""

from __future__ import annotations

from typing import Any

import pytest

from models.actions.activations import ROLLED_BACK, History
from models.actions.history_without import history_without, rewrite, without
from models.tables.learned import Activation, Calibration


def steps(told: str) -> list[tuple[int, str, str | None]]:
    """Return a history from letters; `<` before one says that it was gone back to."""
    found, back = [], False
    for letter in told:
        if letter == "<":
            back = True
            continue
        found.append((len(found), letter, ROLLED_BACK if back else "chosen"))
        back = False
    return found


CASES = [
    ("AB", "B", "A"),
    ("AB", "A", "B"),
    ("AB", "AB", ""),
    ("AB<A", "B", "A"),
    ("AB<A", "A", ""),
    ("ABC<B<A", "C", "AB<A"),
    ("ABC<B<A", "B", "AC<A"),
    ("ABC<B", "A", "BC<B"),
    ("AB<AC", "B", "AC"),
    ("AB<AB", "A", "B"),
    ("ABA", "B", "AA"),
    ("AB", "", "AB"),
]


@pytest.mark.parametrize(("told", "gone", "left"), CASES)
def test_a_history_without_some(told: str, gone: str, left: str) -> None:
    whole = steps(told)
    found = without(whole, set(gone))
    kept = [
        (found.moved.get(number, calibration), reason)
        for number, calibration, reason in whole
        if number not in found.dropped
    ]
    assert kept == [(calibration, reason) for _, calibration, reason in steps(left)]
    read = History(kept)
    assert read.stack == found.stack
    assert (kept[-1][0] if kept else None) == (found.stack[-1] if found.stack else None)


@pytest.mark.parametrize(("told", "_gone", "_left"), CASES)
def test_what_answers_is_the_last_of_what_is_left(told: str, _gone: str, _left: str) -> None:
    """Whichever one goes: what answered before answers on, where it stays."""
    before = History([(calibration, reason) for _, calibration, reason in steps(told)]).stack
    for gone in set(told) - {"<"}:
        assert without(steps(told), {gone}).stack == [one for one in before if one != gone]


def test_only_the_history_of_the_group_itself_is_read_and_rewritten(founding: Any) -> None:
    """Two groups, both of which went from one calibration to another and back."""
    pools = [founding(), founding()]
    made = {pool.group_id: steps_in(pool) for pool in pools}
    mine, theirs = pools
    first, second = made[mine.group_id]
    before = activations_of(theirs)
    with mine.database.write.begin() as session:
        found = history_without(session, mine.group_id, {second, *made[theirs.group_id]})
        assert found.stack == [first]
        assert found.dropped <= {row[0] for row in activations_of(mine)}
        rewrite(session, found)
    assert [row[1] for row in activations_of(mine)] == [first]
    assert activations_of(theirs) == before


def steps_in(pool: Any) -> tuple[str, str]:
    """Return two calibrations of a group; the second was activated and rolled back."""
    with pool.database.write.begin() as session:
        rows = [
            Calibration(
                group_id=pool.group_id,
                number=number,
                reports=0,
                reporters=0,
                fingerprint="invented",
                artefact={},
            )
            for number in (1, 2)
        ]
        session.add_all(rows)
        session.flush()
        first, second = (row.id for row in rows)
        for calibration_id, reason in ((first, "a"), (second, "b"), (first, ROLLED_BACK)):
            session.add(
                Activation(group_id=pool.group_id, calibration_id=calibration_id, reason=reason)
            )
            session.flush()
    return first, second


def activations_of(pool: Any) -> list[tuple[int, str, str | None]]:
    rows = sorted(pool.rows(Activation), key=lambda row: row.id)
    return [(row.id, row.calibration_id, row.reason) for row in rows]
