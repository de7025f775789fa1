import re
from itertools import pairwise

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from models.domain.errors import Invalid
from models.domain.policy import USUAL_PLAIN_ROUNDS, Policy

FIELDS = (
    "heel_stitches",
    "closing_stitches",
    "medium_decrease_rounds",
    "plain_rounds",
    "decreases_per_round",
)


@st.composite
def policies(draw):
    """Draw any policy that leaves decrease rounds to choose, of usual size."""
    each = draw(st.integers(2, 16))
    total = draw(st.integers(1, 40))
    closing = each * draw(st.integers(1, max(1, 60 // each)))
    stitches = closing + total * each + draw(st.integers(0, each - 1))
    assume(8 <= stitches <= 400)
    assume(closing <= 200)
    plain = draw(st.integers(1 if stitches % each else 0, 6))
    return Policy(stitches, closing, draw(st.integers(0, 20)), plain, each)


def test_64_stitches_closed_at_16_are_12_decrease_rounds():
    # D = (64 - 16) / 4 = 12; with 5 slow ones and 4 wanted medium ones 3 are left fast.
    policy = Policy(64, 16, 4)
    assert policy.total_decrease_rounds == 12
    counts = policy.schedule(5).counts
    assert list(counts.values()) == [3, 5, 4, 3]
    assert USUAL_PLAIN_ROUNDS == 3


# By hand for H 64, R 16, m0 4, p 3, so D 12: m = min(4, 12 - s), f = 12 - s - m,
# rounds = 3 + 4s + 2m + f.
@pytest.mark.parametrize(
    ("slow", "medium", "fast", "rounds"),
    [(0, 4, 8, 19), (5, 4, 3, 34), (8, 4, 0, 43), (9, 3, 0, 45), (11, 1, 0, 49), (12, 0, 0, 51)],
)
def test_medium_rounds_give_way_last(slow, medium, fast, rounds):
    schedule = Policy(64, 16, 4).schedule(slow)
    assert list(schedule.counts.values()) == [3, slow, medium, fast]
    assert schedule.total_rounds == rounds


@given(policies())
@settings(deadline=None, max_examples=200)
def test_every_choice_ends_with_the_closing_stitches_of_the_design(policy):
    for slow in range(policy.total_decrease_rounds + 1):
        schedule = policy.schedule(slow)
        assert schedule.closing_stitches == policy.closing_stitches
        assert schedule.counts["slow_decrease_rounds"] == slow
        assert schedule.counts["plain_rounds"] == policy.plain_rounds


@given(policies(), st.floats(20, 60))
@settings(deadline=None, max_examples=200)
def test_depth_strictly_rises_with_the_slow_decrease_rounds(policy, rounds_per_10cm):
    depths = [
        policy.schedule(slow).depth_mm(rounds_per_10cm)
        for slow in range(policy.total_decrease_rounds + 1)
    ]
    assert all(deeper > depth for depth, deeper in pairwise(depths))


@given(policies())
@settings(deadline=None, max_examples=200)
def test_total_rounds_are_those_of_the_schedules(policy):
    choices = range(policy.total_decrease_rounds + 1)
    assert policy.total_rounds() == [policy.schedule(slow).total_rounds for slow in choices]


@given(policies())
@settings(deadline=None, max_examples=200)
def test_a_slow_round_for_a_fast_one_adds_three_rounds_and_for_a_medium_one_two(policy):
    for slow in range(policy.total_decrease_rounds):
        here, there = policy.schedule(slow), policy.schedule(slow + 1)
        added = 3 if here.counts["fast_decrease_rounds"] else 2
        assert there.total_rounds - here.total_rounds == added


@given(
    st.integers(8, 400),
    st.integers(2, 200),
    st.integers(0, 100),
    st.integers(0, 3),
    st.integers(2, 16),
)
@example(10, 4, 0, 3, 16)
@example(400, 199, 0, 3, 16)
@example(400, 2, 0, 3, 2)
@settings(deadline=None, max_examples=300)
def test_any_numbers_make_a_policy_or_an_error_whose_advice_makes_one(heel, close, m0, plain, each):
    try:
        policy = Policy(heel, close, m0, plain, each)
    except Invalid as error:
        given_values = dict(zip(FIELDS, (heel, close, m0, plain, each), strict=True))
        for fault in error.faults:
            assert given_values[fault.field] == fault.value
            assert list(follow(fault.wanted, given_values)) != []
    else:
        assert policy.total_decrease_rounds >= 0


def follow(advice, numbers):
    """Yield the policies that a piece of advice leads to; an `Invalid` means it was bad."""
    each = numbers["decreases_per_round"]
    for reached in re.findall(r"reach (\d+(?: or \d+)*)", advice):
        for number in reached.split(" or "):
            yield Policy(**numbers | {"closing_stitches": int(number)})
    for used in re.findall(r"use (\d+(?: or \d+)*)", advice):
        for number in used.split(" or "):
            yield Policy(**numbers | {"heel_stitches": int(number), "closing_stitches": each})
    for number in re.findall(r"at most (\d+) decreases per round", advice):
        few = {"decreases_per_round": int(number), "closing_stitches": int(number)}
        yield Policy(**numbers | few | {"plain_rounds": 1})


@pytest.mark.parametrize(("heel", "close", "each"), [(400, 2, 2), (399, 3, 3), (399, 6, 3)])
def test_whatever_a_policy_accepts_it_can_schedule(heel, close, each):
    # 199, 132 and 131 decrease rounds, all of them fast.
    try:
        policy = Policy(heel, close, 0, 3, each)
    except Invalid:
        return  # Refused in its own words, which the test above follows.
    assert policy.schedule(0).closing_stitches == close


@pytest.mark.parametrize("slow", [-1, 13, 50, 10**6])
def test_slow_rounds_that_the_stitches_do_not_allow_are_named_as_such(slow):
    with pytest.raises(Invalid) as raised:
        Policy(64, 16, 4).schedule(slow)
    (fault,) = raised.value.faults
    assert (fault.field, fault.value) == ("slow_decrease_rounds", slow)


def test_62_stitches_cannot_be_closed_at_17_but_62_at_16_evens_out_first():
    # (62 - 16) / 4 is no whole number: remainder 2 goes in the first plain round.
    schedule = Policy(62, 16, 0).schedule(0)
    assert (schedule.remainder, schedule.even_stitches, schedule.closing_stitches) == (2, 60, 16)
    with pytest.raises(Invalid, match=r"closing_stitches is 17: 60 .* reach 16 or 20 "):
        Policy(62, 17, 0)


@pytest.mark.parametrize("field", FIELDS)
@pytest.mark.parametrize(
    "bad", [-1, 2.5, float("nan"), float("inf"), 10**30, "4", None, True], ids=str
)
def test_a_number_outside_its_limits_is_refused_in_its_field(field, bad):
    numbers = dict(zip(FIELDS, (64, 16, 4, 3, 4), strict=True)) | {field: bad}
    with pytest.raises(Invalid) as raised:
        Policy(**numbers)
    (fault,) = raised.value.faults
    assert fault.field == field
    assert fault.value is bad
