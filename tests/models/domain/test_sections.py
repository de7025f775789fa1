"""The registry of sections, and what follows from one more entry."""

import sys

import numpy as np
import pytest

from models.domain.errors import Invalid
from models.domain.instructions import written
from models.domain.policy import Policy
from models.domain.quantities import Quantity
from models.domain.schedule import Schedule
from models.domain.sections import (
    COUNT_NAMES,
    SECTIONS,
    Section,
    decrease_rounds,
    rounds_worked,
)

COUNTS = dict(zip(COUNT_NAMES, (3, 5, 4, 2), strict=True))
SLOWEST = Section(
    "slowest",
    Quantity("slowest_decrease_rounds", 0, 100, "rounds", "One round in six.", integer=True),
    rounds_each=6,
    decreases=True,
)


@pytest.fixture
def slowest(monkeypatch):
    """Add one entry to the registry of sections, after the plain rounds, wherever it is read."""
    sections = (SECTIONS[0], SLOWEST, *SECTIONS[1:])
    names = tuple(section.count.name for section in sections)
    for name, module in list(sys.modules.items()):
        if name.startswith("models.domain."):
            for attribute, value in (("SECTIONS", sections), ("COUNT_NAMES", names)):
                if hasattr(module, attribute):
                    monkeypatch.setattr(module, attribute, value)
    return SLOWEST


def test_a_heel_is_plain_slow_medium_fast_and_the_close():
    assert [section.key for section in SECTIONS] == ["plain", "slow", "medium", "fast"]


@pytest.mark.parametrize(
    ("key", "one_in", "decreases"),
    [("plain", 1, False), ("slow", 4, True), ("medium", 2, True), ("fast", 1, True)],
)
def test_slow_is_one_round_in_four_medium_one_in_two_fast_every_round(key, one_in, decreases):
    (section,) = (one for one in SECTIONS if one.key == key)
    assert (section.rounds_each, section.decreases) == (one_in, decreases)
    assert section.plain_before == (one_in - 1 if decreases else 0)


def test_rounds_are_p_plus_4s_plus_2m_plus_f():
    # By hand: 3 + 4*5 + 2*4 + 2 = 33 rounds, of which 5 + 4 + 2 = 11 decrease.
    assert rounds_worked(COUNTS) == 33
    assert decrease_rounds(COUNTS) == 11


def test_columns_of_counts_go_through_as_single_counts_do():
    columns = {name: np.array([count, 0, 1]) for name, count in COUNTS.items()}
    assert rounds_worked(columns).tolist() == [33, 0, 8]
    assert decrease_rounds(columns).tolist() == [11, 0, 3]


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.key)
def test_a_count_is_a_required_whole_number_of_rounds(section):
    assert section.count.fault(0) is None
    for bad in (-1, 2.5, None, 10**30):
        assert str(section.count.fault(bad)).startswith(section.count.name)


def test_one_more_section_is_worked_in_its_place(slowest):
    counts = {**dict.fromkeys(COUNT_NAMES, 1), slowest.count.name: 2}
    schedule = Schedule(40, counts)
    # By hand: 1 plain, 2 * 6 slowest, 4 slow, 2 medium, 1 fast.
    assert schedule.total_rounds == 1 + 12 + 4 + 2 + 1
    left = [one.stitches_after for one in schedule.rounds()]
    assert left == [40] + [40] * 5 + [36] * 6 + [32] + [32] * 3 + [28] * 2 + [24, 20]
    assert schedule.closing_stitches == 20


def test_one_more_section_must_be_counted_and_is_written(slowest):
    with pytest.raises(Invalid, match="slowest_decrease_rounds is missing"):
        Schedule(40, dict.fromkeys(COUNT_NAMES, 1))
    steps = written(Schedule(40, {**dict.fromkeys(COUNT_NAMES, 0), slowest.count.name: 3}))
    (step,) = (step for step in steps if step.section == "slowest")
    assert (step.first_round, step.last_round, step.stitches_after) == (1, 18, 28)
    assert "5 rounds plain" in step.text


def test_the_policy_leaves_one_more_section_at_none(slowest):
    assert Policy(64, 16, 4).schedule(5).counts[slowest.count.name] == 0
