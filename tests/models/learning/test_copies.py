"""Copies are found in parts as a plain walk through all reports finds them; all are invented."""

from __future__ import annotations

from collections import Counter, defaultdict

import numpy as np
import pytest

from models.domain.foot import MEASUREMENT_NAMES
from models.learning.copies import MARKS_MM, copies
from models.learning.evidence import COLUMNS
from models.learning.received import DAY, DAY_SAID, ID, SAID, WHOSE, WIDTH

LAST = ID.stop - 1


def repeating(seed: int) -> np.ndarray:
    """Return 500 rows of nine people that say one of 150 things: fine, rounded or of few feet."""
    draw = np.random.default_rng(seed)
    said = draw.integers(1, 90, (150, len(COLUMNS))) * 5.0
    said[:50, :3] += 1.3
    said[100:, 2:4] = np.nan
    rows = np.zeros((500, WIDTH))
    rows[:, WHOSE] = draw.integers(0, 9, 500)
    rows[:, LAST] = draw.permutation(500)
    rows[:, DAY], rows[:, DAY_SAID] = draw.integers(1, 4, 500), draw.integers(0, 2, 500)
    rows[:, SAID] = said[draw.integers(0, 150, 500)]
    return rows


def is_fine(mm: float) -> bool:
    """Return whether a measurement is no mark of a tape, to what it is written down to."""
    return all(0.06 < mm % mark < mark - 0.06 for mark in MARKS_MM)


def walked(rows: np.ndarray) -> list[int]:
    """Return the numbers of the copies among rows, found one by one."""
    authors: dict[bytes, float] = {}
    told, own, waiting = Counter[object](), Counter[object](), defaultdict[object, list[int]](list)
    shared, found = Counter[object](), set[int]()
    for row in rows[np.argsort(rows[:, LAST])]:
        who, content, number = row[WHOSE], row[SAID].tobytes(), int(row[LAST])
        feet = row[SAID][: len(MEASUREMENT_NAMES)]
        author = authors.setdefault(content, who)
        day = row[DAY] if row[DAY_SAID] else 0
        own[content, who, day] += 1
        told[content, who] += 1
        if own[content, who, day] > 2:
            found.add(number)
        if who != author and np.sum(~np.isnan(feet)) >= 3:
            shared[who, author] += told[content, who] == 1
            waiting[who, author].append(number)
            if sum(is_fine(mm) for mm in feet.tolist()) >= 3:
                found.add(number)
    for pair, numbers in waiting.items():
        found.update(numbers if shared[pair] > 1 else [])
    return sorted(found)


@pytest.mark.parametrize("parts", [1, 2, 7, 60])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_copies_are_those_of_a_plain_walk(seed: int, parts: int) -> None:
    rows = repeating(seed)
    found = np.concatenate(list(copies(np.array_split(rows, 4), parts)))
    numbers = found[:, LAST].astype(int).tolist()
    assert sorted(numbers) == walked(rows)
    assert 0 < len(numbers) < len(rows)


def test_the_same_foot_is_the_same_whatever_the_sign_of_a_zero() -> None:
    rows = np.zeros((3, WIDTH))
    rows[:, LAST] = range(3)
    rows[1, SAID] *= -1
    (found,) = [some for some in copies([rows], 5) if len(some)]
    assert found[:, LAST].tolist() == [2]
