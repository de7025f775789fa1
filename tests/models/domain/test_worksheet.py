import pytest

from models.domain.errors import Invalid
from models.domain.gauge import Gauge
from models.domain.schedule import Schedule
from models.domain.worksheet import worksheet

FOOT = {"foot_length_mm": 250, "foot_circumference_mm": 232, "heel_diagonal_mm": 314}


def heel(plain, slow=4, medium=4, fast=4):
    """Return a heel of 64 stitches that closes with 16."""
    counts = {
        "plain_rounds": plain,
        "slow_decrease_rounds": slow,
        "medium_decrease_rounds": medium,
        "fast_decrease_rounds": fast,
    }
    return Schedule(64, counts)


def doubts(sheet):
    """Return the fields that are doubted, with the words."""
    return {doubt.field: doubt.wanted for doubt in sheet.doubts}


def test_a_heel_near_the_ideal_ease_is_not_doubted():
    # By hand: across (32 + 8) * 100 / 30 = 133.3 mm, depth 31 * 100 / 42 = 73.8 mm,
    # girth 133.3 + 147.6 = 281.0 mm, ease 281.0 / 314 - 1 = -0.105.
    sheet = worksheet(heel(3), Gauge(30, 42), FOOT)
    assert sheet.fitting.diagonal_ease == pytest.approx(-0.105, abs=5e-4)
    assert sheet.doubts == ()


@pytest.mark.parametrize(
    ("schedule", "said"),
    [(heel(3, 0, 0, 12), "likely far too shallow"), (heel(40), "likely far too deep")],
)
def test_a_heel_far_from_the_ideal_ease_is_doubted(schedule, said):
    assert doubts(worksheet(schedule, Gauge(30, 42), FOOT))["diagonal_ease"] == said


def test_a_heel_longer_than_the_foot_has_no_place_for_the_waste_yarn_and_says_so():
    sheet = worksheet(heel(100), Gauge(30, 42), FOOT)
    assert sheet.fitting.waste_yarn is None
    assert "leaves no foot to knit" in doubts(sheet)["depth_mm"]


def test_without_a_foot_there_is_nothing_to_fit_to():
    assert worksheet(heel(3), Gauge(30, 42)).fitting is None


def test_an_implausible_foot_is_refused_under_its_own_name():
    with pytest.raises(Invalid, match=r"foot\.foot_length_mm is 25: "):
        worksheet(heel(3), Gauge(30, 42), {**FOOT, "foot_length_mm": 25})


def test_a_remainder_counts_in_the_girth_as_it_lies_around_the_instep():
    even = worksheet(heel(3), Gauge(30, 42), FOOT)
    odd = worksheet(Schedule(66, dict(heel(3).counts)), Gauge(30, 42), FOOT)
    # 2 more heel stitches: half of them, 1 stitch of 3.33 mm, more across the instep.
    more = (odd.fitting.diagonal_ease - even.fitting.diagonal_ease) * 314
    assert more == pytest.approx(100 / 30, abs=1e-9)
