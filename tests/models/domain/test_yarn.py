"""Source of the table: Craft Yarn Council, Standard Yarn Weight System."""

import pytest

from models.domain.quantities import YARN_WEIGHT
from models.domain.yarn import YARN_WEIGHTS, doubt_about_yarn

# Craft Yarn Council, Standard Yarn Weight System: stockinette stitches per 4 inches.
# Row 7 says "6 stitches and fewer"; its lower end, 1, is the fewest there can be.
COUNCIL = [
    (0, "lace", 33, 40),
    (1, "super fine", 27, 32),
    (2, "fine", 23, 26),
    (3, "light", 21, 24),
    (4, "medium", 16, 20),
    (5, "bulky", 12, 15),
    (6, "super bulky", 7, 11),
    (7, "jumbo", 1, 6),
]

# The same rows per 10 cm, by the definition of the inch (4 in = 10.16 cm).
PER_10CM = [
    (0, 32.5, 39.4),
    (1, 26.6, 31.5),
    (2, 22.6, 25.6),
    (3, 20.7, 23.6),
    (4, 15.7, 19.7),
    (5, 11.8, 14.8),
    (6, 6.9, 10.8),
]


def rows_with(stitches_per_4in):
    """Return the numbers of the rows that hold a count of stitches per 4 inches."""
    return [
        weight.number
        for weight in YARN_WEIGHTS
        if weight.stitches_per_4in[0] <= stitches_per_4in <= weight.stitches_per_4in[1]
    ]


def test_there_are_the_eight_weights_of_the_council_and_no_other():
    assert [(w.number, w.name, *w.stitches_per_4in) for w in YARN_WEIGHTS] == COUNCIL


def test_the_numbers_a_report_may_give_are_the_numbers_of_the_table():
    assert [w.number for w in YARN_WEIGHTS if YARN_WEIGHT.fault(w.number) is None] == list(range(8))
    assert YARN_WEIGHT.fault(8) is not None
    assert YARN_WEIGHT.fault(-1) is not None


@pytest.mark.parametrize(("number", "low", "high"), PER_10CM)
def test_a_row_per_10_cm_is_1_6_per_cent_below_its_row_per_4_inches(number, low, high):
    assert YARN_WEIGHTS[number].stitches_per_10cm == pytest.approx((low, high), abs=0.06)


def test_jumbo_ends_at_5_9_per_10_cm():
    # Craft Yarn Council: 6 stitches and fewer to 4 in; 6 * 100 / 101.6.
    assert YARN_WEIGHTS[7].stitches_per_10cm[1] == pytest.approx(5.9, abs=0.06)


@pytest.mark.parametrize("stitches", [6.5, 11.5, 15.5, 20.5, 26.5, 32.5])
def test_half_stitches_between_two_rows_are_in_no_row(stitches):
    assert rows_with(stitches) == []


@pytest.mark.parametrize("stitches", [23, 23.5, 24])
def test_fine_and_light_overlap(stitches):
    assert rows_with(stitches) == [2, 3]


def test_super_bulky_starts_at_7_because_6_belongs_to_jumbo():
    # Older copies of the table say 6 to 11 for category 6 and have no category 7.
    assert rows_with(6) == [7]
    assert rows_with(7) == [6]


@pytest.mark.parametrize("weight", YARN_WEIGHTS, ids=lambda weight: weight.name)
def test_a_gauge_within_the_guideline_is_never_unusual(weight):
    low, high = weight.stitches_per_10cm
    for gauge in (low, (low + high) / 2, high):
        assert doubt_about_yarn(weight.number, gauge) is None


@pytest.mark.parametrize("gauge", [28, 30, 32, 34, 36])
def test_firm_sock_gauges_of_sock_yarn_are_usual(gauge):
    # Common practice, no source.
    assert doubt_about_yarn(1, gauge) is None


@pytest.mark.parametrize(("number", "gauge"), [(6, 32), (7, 30), (0, 12), (1, 10), (4, 36)])
def test_a_gauge_that_the_yarn_cannot_knit_to_is_named_with_weight_and_guideline(number, gauge):
    sentence = str(doubt_about_yarn(number, gauge))
    low, high = YARN_WEIGHTS[number].stitches_per_10cm
    assert sentence.startswith(f"stitches_per_10cm is {gauge}: far from yarn weight {number} ")
    assert f"{low:.0f} to {high:.0f}" in sentence


def test_the_trap_of_26_5_stitches_is_usual_for_both_neighbours():
    per_10cm = 26.5 * 100 / 101.6
    assert doubt_about_yarn(1, per_10cm) is None
    assert doubt_about_yarn(2, per_10cm) is None
