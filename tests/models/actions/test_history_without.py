"""The record of what answered reads, without some calibrations, as if they had never been."""

from __future__ import annotations

import pytest

from models.actions.activations import ROLLED_BACK, History
from models.actions.history_without import without


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
