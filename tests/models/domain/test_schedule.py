import re
from itertools import pairwise

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from models.domain.errors import Invalid
from models.domain.schedule import Schedule
from models.domain.sections import COUNT_NAMES, SECTIONS

MOST_ROUNDS = 100


def heel(stitches, plain=0, slow=0, medium=0, fast=0, each=4):
    """Return a schedule from its numbers."""
    counts = dict(zip(COUNT_NAMES, (plain, slow, medium, fast), strict=True))
    return Schedule(stitches, counts, each)


@st.composite
def schedules(draw):
    """Draw any schedule that can be knitted."""
    each = draw(st.integers(2, 16))
    stitches = draw(st.integers(max(8, each), 400))
    most = stitches // each - 1
    slow = draw(st.integers(0, min(most, MOST_ROUNDS)))
    medium = draw(st.integers(0, min(most - slow, MOST_ROUNDS)))
    fast = draw(st.integers(0, min(most - slow - medium, MOST_ROUNDS)))
    plain = draw(st.integers(1 if stitches % each else 0, 8))
    return heel(stitches, plain, slow, medium, fast, each)


# Exact arithmetic of common practice (no source): S0 stitches, G to close, p plain rounds first,
# D decrease rounds, of which k are followed by a plain round. One decrease round with a plain
# round is one of our MEDIUM decrease rounds; the other D - k are FAST. Rounds = p + D + k.
PRACTICE = [
    # S0, G, p, rows per 10 cm, k, D, rounds, depth in mm
    (48, 16, 0, 40, 0, 8, 8, 20.0),
    (48, 16, 0, 40, 4, 8, 12, 30.0),
    (48, 16, 0, 40, 8, 8, 16, 40.0),
    (60, 16, 1, 44, 0, 11, 12, 27.3),
    (60, 16, 1, 44, 5, 11, 17, 38.6),
    (60, 16, 1, 44, 11, 11, 23, 52.3),
    (64, 16, 2, 44, 0, 12, 14, 31.8),
    (64, 16, 2, 44, 6, 12, 20, 45.5),
    (64, 16, 2, 44, 12, 12, 26, 59.1),
    (64, 20, 2, 44, 0, 11, 13, 29.5),
    (64, 20, 2, 44, 5, 11, 18, 40.9),
    (64, 20, 2, 44, 11, 11, 24, 54.5),
    (72, 16, 2, 46, 0, 14, 16, 34.8),
    (72, 16, 2, 46, 7, 14, 23, 50.0),
    (72, 16, 2, 46, 14, 14, 30, 65.2),
]


@pytest.mark.parametrize("row", PRACTICE, ids=str)
def test_common_practice_gives_its_rounds_and_depth(row):
    start, close, p, rows, k, total, rounds, mm = row
    schedule = heel(start, plain=p, medium=k, fast=total - k)
    assert schedule.closing_stitches == close
    assert schedule.total_rounds == rounds
    assert len(list(schedule.rounds())) == rounds
    assert schedule.depth_mm(rows) == pytest.approx(mm, abs=0.05)


# Hand-worked: 40 stitches around, opening of 20 + 20, four decreases in a decrease round, three
# plain rounds, then one in four, one in two, every round (common practice, no source).
# fmt: off
BY_HAND = [
    ((3, 2, 2, 2), [40, 40, 40,
                    40, 40, 40, 36, 36, 36, 36, 32,
                    32, 28, 28, 24,
                    20, 16]),
    ((3, 3, 1, 1), [40, 40, 40,
                    40, 40, 40, 36, 36, 36, 36, 32, 32, 32, 32, 28,
                    28, 24,
                    20]),
    ((3, 0, 3, 3), [40, 40, 40,
                    40, 36, 36, 32, 32, 28,
                    24, 20, 16]),
    ((3, 6, 0, 0), [40, 40, 40,
                    40, 40, 40, 36, 36, 36, 36, 32, 32, 32, 32, 28,
                    28, 28, 28, 24, 24, 24, 24, 20, 20, 20, 20, 16]),
    ((0, 1, 1, 1), [40, 40, 40, 36, 36, 32, 28]),
    ((3, 0, 0, 9), [40, 40, 40, 36, 32, 28, 24, 20, 16, 12, 8, 4]),
]
# fmt: on


@pytest.mark.parametrize(("counts", "left"), BY_HAND)
def test_a_heel_of_40_stitches_is_what_one_works_out_by_hand(counts, left):
    schedule = heel(40, *counts)
    rounds = list(schedule.rounds())
    assert [one.stitches_after for one in rounds] == left
    assert [one.number for one in rounds] == list(range(1, len(left) + 1))
    assert (schedule.total_rounds, schedule.closing_stitches) == (len(left), left[-1])


def test_the_quarters_of_10_lose_one_stitch_in_each_decrease_round():
    quarters = [one.stitches_after / 4 for one in heel(40, 3, 2, 2, 2).rounds() if one.decreases]
    assert quarters == [9, 8, 7, 6, 5, 4]


# By hand: 43 = 4 * 10 + 3, so round 1 leaves 40; 65 = 6 * 10 + 5, so round 1 leaves 60.
@pytest.mark.parametrize(
    ("stitches", "each", "left"),
    [(43, 4, [40, 40, 40, 40, 40, 36, 36, 32, 28]), (65, 6, [60, 60, 60, 60, 60, 54, 54, 48, 42])],
)
def test_a_remainder_goes_in_the_first_plain_round(stitches, each, left):
    schedule = heel(stitches, 2, 1, 1, 1, each)
    assert [one.stitches_after for one in schedule.rounds()] == left
    assert schedule.remainder == stitches - left[0]


def test_each_round_knows_its_section():
    sections = [one.section for one in heel(40, 1, 1, 1, 1).rounds()]
    assert sections == ["plain"] + ["slow"] * 4 + ["medium"] * 2 + ["fast"]


def test_one_round_at_44_is_2_27_mm_deep():
    # Arithmetic: a suggestion can be no finer than one round.
    step = heel(64, 3).depth_mm(44) - heel(64, 2).depth_mm(44)
    assert step == pytest.approx(2.27, abs=0.005)


@given(schedules())
@settings(deadline=None, max_examples=200)
def test_the_rounds_agree_with_the_arithmetic(schedule):
    rounds = list(schedule.rounds())
    assert len(rounds) == schedule.total_rounds
    left = [schedule.heel_stitches, *(one.stitches_after for one in rounds)]
    assert left[-1] == schedule.closing_stitches
    assert left[:-1] == [one.stitches_before for one in rounds]
    assert all(after <= before for before, after in pairwise(left))
    assert schedule.closing_stitches >= schedule.decreases_per_round
    assert min(left) == left[-1] > 0


@given(schedules())
@settings(deadline=None, max_examples=200)
def test_every_decrease_round_loses_the_same_and_the_rest_only_the_remainder(schedule):
    rounds = list(schedule.rounds())
    plain = [one.decreases for one in rounds if one.section == "plain"]
    others = [one.decreases for one in rounds if one.section != "plain"]
    assert plain[:1] in ([], [schedule.remainder])
    assert not any(plain[1:])
    assert set(others) <= {0, schedule.decreases_per_round}


@given(
    st.integers(8, 400),
    st.integers(2, 16),
    st.integers(0, 3),
    st.tuples(*[st.integers(0, MOST_ROUNDS) | st.integers(0, 5)] * 3),
)
@example(10, 16, 0, (0, 0, 0))
@example(10, 16, 1, (0, 0, 0))
@example(400, 7, 0, (1, 0, 0))
@example(9, 4, 0, (0, 0, 2))
@settings(deadline=None, max_examples=300)
def test_any_counts_make_a_schedule_or_an_error_whose_advice_makes_one(stitches, each, plain, rest):
    try:
        schedule = heel(stitches, plain, *rest, each)
    except Invalid as error:
        for fault in error.faults:
            assert (fault.field, fault.value) in {
                ("heel_stitches", stitches),
                ("decreases_per_round", each),
            }
            assert list(follow(fault.wanted, stitches, each)) != []
    else:
        assert schedule.closing_stitches >= each


def follow(advice, stitches, each):
    """Yield the schedules that a piece of advice leads to; an `Invalid` means it was bad."""
    for numbers in re.findall(r"use (\d+(?: or \d+)*)", advice):
        for number in numbers.split(" or "):
            yield heel(int(number), each=each)
    if "work a plain round" in advice:
        yield heel(stitches, plain=1, each=each)
    for number in re.findall(r"at most (\d+) decrease rounds", advice):
        slow, rest = min(int(number), 100), max(int(number) - 100, 0)
        yield heel(stitches, 1, slow, rest, each=each)
    for number in re.findall(r"at most (\d+) decreases per round", advice):
        yield heel(stitches, plain=1, each=int(number))


@pytest.mark.parametrize("field", [*COUNT_NAMES, "heel_stitches", "decreases_per_round"])
@pytest.mark.parametrize(
    "bad", [-1, 2.5, float("nan"), float("inf"), 10**30, 1e308, "3", None, True, [3]], ids=str
)
def test_a_count_that_is_none_is_refused_in_its_field(field, bad):
    numbers = dict.fromkeys(COUNT_NAMES, 1) | {"heel_stitches": 64, "decreases_per_round": 4}
    numbers[field] = bad
    counts = {name: numbers[name] for name in COUNT_NAMES}
    with pytest.raises(Invalid) as raised:
        Schedule(numbers["heel_stitches"], counts, numbers["decreases_per_round"])
    (fault,) = raised.value.faults
    assert fault.field == field
    assert fault.value is bad


def test_a_missing_and_an_unknown_section_are_both_named():
    counts = dict.fromkeys(COUNT_NAMES[1:], 1) | {"brisk_rounds": 2}
    with pytest.raises(Invalid) as raised:
        Schedule(64, counts)
    assert [str(fault) for fault in raised.value.faults] == [
        f"plain_rounds is missing: {SECTIONS[0].count.wanted}",
        f"brisk_rounds is 2: sections are {', '.join(COUNT_NAMES)}",
    ]


def test_a_whole_number_written_as_a_decimal_counts_the_same_or_is_refused():
    # 3.0 is an integer to JSON Schema, and to pandas in a column with an empty cell.
    assert rounds_or_error(64.0, 3.0, 2.0, 2.0, 2.0, 4.0) in (
        rounds_or_error(64, 3, 2, 2, 2, 4),
        "refused",
    )


def rounds_or_error(*numbers):
    """Return every round of a schedule, or that it was refused."""
    try:
        return list(heel(*numbers).rounds())
    except Invalid:
        return "refused"


def test_more_decreases_than_stitches_are_refused_with_the_most_there_can_be():
    # 40 stitches less 9 * 4 leave 4, one for each decrease of a round; 10 rounds leave none.
    assert heel(40, fast=9).closing_stitches == 4
    with pytest.raises(Invalid, match=r"heel_stitches is 40: 10 decrease rounds .* at most 9 "):
        heel(40, fast=10)
