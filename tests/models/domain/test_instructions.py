"""A knitter who knows nothing but the written words must end where the arithmetic ends."""

import re
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.domain.closing import CLOSINGS
from models.domain.instructions import written
from models.domain.schedule import Schedule
from models.domain.sections import COUNT_NAMES

ROUNDS = re.compile(r"^Rounds? (\d+)(?: to (\d+))?:")
EVENED_OUT = re.compile(r"so that (\d+) stitches are left")
PACE = re.compile(r"knit (\d+) rounds? plain, then 1 decrease round")
REPEATED = re.compile(r"rounds (\d+) times|work (\d+) decrease round")
LEAVE = re.compile(r"leaves? ([\d, and]+) stitches")
QUARTERS = re.compile(r"that is ([\d, and]+) in each quarter")


@st.composite
def schedules(draw):
    """Draw any schedule that can be knitted."""
    each = draw(st.integers(2, 16) | st.just(4))
    stitches = draw(st.integers(max(8, each), 400))
    most = min(stitches // each - 1, 100)
    slow = draw(st.integers(0, most))
    medium = draw(st.integers(0, most - slow))
    fast = draw(st.integers(0, most - slow - medium))
    plain = draw(st.integers(1 if stitches % each else 0, 8))
    counts = dict(zip(COUNT_NAMES, (plain, slow, medium, fast), strict=True))
    return Schedule(stitches, counts, each)


def numbers(text):
    """Return every whole number of a text in order."""
    return [int(number) for number in re.findall(r"\d+", text)]


def times(text):
    """Return how often a section is to be worked; once where the words name no number."""
    found = REPEATED.search(text)
    return int(found[1] or found[2]) if found else 1


def knit(steps, each):
    """Return the stitches after every round, knitting by the words alone."""
    stitches = int(re.search(r"(?:that you|You) have (\d+)", steps[0].text)[1])
    left = []
    for step in steps[1:-1]:
        if step.section == "plain":
            evened_out = EVENED_OUT.search(step.text)
            stitches = int(evened_out[1]) if evened_out else stitches
            first, last = ROUNDS.search(step.text).groups()
            left += [stitches] * (int(last or first) - int(first) + 1)
            continue
        pace = PACE.search(step.text)
        for _ in range(times(step.text)):
            left += [stitches] * (int(pace[1]) if pace else 0)
            stitches -= each
            left.append(stitches)
    return left


@given(schedules())
@settings(deadline=None, max_examples=200)
def test_knitting_by_the_words_gives_the_rounds_of_the_schedule(schedule):
    left = knit(written(schedule), schedule.decreases_per_round)
    assert left == [one.stitches_after for one in schedule.rounds()]


@given(schedules())
@settings(deadline=None, max_examples=200)
def test_the_stitches_named_after_each_decrease_round_are_the_arithmetic_s(schedule):
    rounds = list(schedule.rounds())
    for step in written(schedule)[1:-1]:
        own = [one for one in rounds if one.section == step.section]
        first, last = ROUNDS.search(step.text).groups()
        assert (int(first), int(last or first)) == (own[0].number, own[-1].number)
        assert (step.first_round, step.last_round) == (own[0].number, own[-1].number)
        if step.section != "plain":
            left = [one.stitches_after for one in own if one.decreases]
            assert numbers(LEAVE.search(step.text)[1]) == left


@given(schedules())
@settings(deadline=None, max_examples=200)
def test_quarters_are_named_where_they_stay_equal_and_nowhere_else(schedule):
    for step in written(schedule)[1:-1]:
        quarters = QUARTERS.search(step.text)
        if step.section == "plain" or schedule.decreases_per_round != 4:
            assert quarters is None
        else:
            left = numbers(LEAVE.search(step.text)[1])
            assert [4 * quarter for quarter in numbers(quarters[1])] == left


@given(schedules(), st.sampled_from(sorted(CLOSINGS)))
@settings(deadline=None)
def test_steps_hand_their_stitches_on_until_none_is_left(schedule, close):
    steps = written(schedule, close)
    assert (steps[0].section, steps[-1].section) == ("pick up", "close")
    assert steps[0].stitches_after == schedule.heel_stitches
    assert steps[-1].stitches_before == schedule.closing_stitches
    assert steps[-1].stitches_after == 0
    for before, after in pairwise(steps):
        assert before.stitches_after == after.stitches_before
    assert steps[-1].text == CLOSINGS[close](schedule.closing_stitches)


@given(schedules())
@settings(deadline=None)
def test_the_edges_named_hold_the_loops_that_the_waste_yarn_leaves(schedule):
    # 2n - 1 loops from a row of n stitches: common practice, no source.
    lower, upper, together = numbers(written(schedule)[0].text)[:3]
    row = (schedule.heel_stitches + 1) // 2
    assert (lower, upper, together) == (row, row - 1, 2 * row - 1)


def heel(stitches, *counts, each=4):
    """Return the texts of a heel by section."""
    schedule = Schedule(stitches, dict(zip(COUNT_NAMES, counts, strict=True)), each)
    return {step.section: step.text for step in written(schedule)}


def test_a_heel_of_40_stitches_reads_as_worked_by_hand():
    # Opening of 20 + 20, three plain rounds, one in four, one in two, every round (common
    # practice, no source).
    words = heel(40, 3, 2, 2, 2)
    assert numbers(words["plain"])[:2] == [1, 3]
    assert numbers(words["slow"]) == [4, 11, 3, 1, 4, 2, 36, 32, 9, 8]
    assert numbers(words["medium"]) == [12, 15, 1, 1, 2, 2, 28, 24, 7, 6]
    assert numbers(words["fast"]) == [16, 17, 2, 20, 16, 5, 4]
    assert numbers(words["close"])[:2] == [16, 8]


def test_a_section_without_rounds_is_not_mentioned():
    assert list(heel(40, 0, 0, 0, 9)) == ["pick up", "fast", "close"]
    assert list(heel(40, 3, 0, 0, 0)) == ["pick up", "plain", "close"]


@pytest.mark.parametrize("each", [3, 6, 8])
def test_quarters_are_not_promised_to_stay_equal_where_they_cannot(each):
    # With 6 decreases a round no quarter loses a whole stitch and a half.
    words = heel(96, 3, 2, 2, 2, each=each)["pick up"]
    assert f"{each} equal parts" in words
    assert "each has then lost the same" not in words


@pytest.mark.parametrize("stitches", [41, 42, 43])
def test_a_round_with_decreases_is_not_called_one_without(stitches):
    words = heel(stitches, 1, 1, 1, 1)["plain"]
    assert EVENED_OUT.search(words)[1] == "40"
    assert "without decreases" not in words


def test_picking_up_covers_wrong_counts_markers_and_corner_holes():
    words = heel(64, 3, 5, 4, 3)["pick up"]
    for said in ("one too many", "one too few", "marker", "corner", "hole", "begins at"):
        assert said in words
