"""What a size of a design must say of itself."""

import pytest

from models.domain.errors import Invalid
from models.domain.sizes import NUMBERS, is_complete, policy_of, require_possible

SIZE = {
    "foot_length_low_mm": 230,
    "foot_length_high_mm": 250,
    "foot_circumference_low_mm": 215,
    "foot_circumference_high_mm": 235,
    "yarn_weight": 1,
    "stitches_per_10cm": 30,
    "rounds_per_10cm": 42,
    "heel_stitches": 60,
    "closing_stitches": 16,
    "medium_decrease_rounds": 4,
    "plain_rounds": 3,
    "slow_decrease_rounds": 3,
}


def test_a_sound_size_is_taken_and_its_policy_is_the_default_one():
    assert tuple(SIZE) == tuple(quantity.name for quantity in NUMBERS)
    require_possible(SIZE)
    # D = (H - R) / 4 (DESIGN, default policy): (60 - 16) / 4.
    assert policy_of(SIZE).total_decrease_rounds == 11
    assert policy_of({**SIZE, "decreases_per_round": 2}).total_decrease_rounds == 22


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"foot_length_high_mm": 230}, "foot_length_high_mm"),
        ({"foot_circumference_low_mm": 240}, "foot_circumference_high_mm"),
        ({"closing_stitches": 15}, "closing_stitches"),
        ({"slow_decrease_rounds": 12}, "slow_decrease_rounds"),
        ({"rounds_per_10cm": 500}, "rounds_per_10cm"),
    ],
)
def test_what_cannot_be_is_named(changed, field):
    with pytest.raises(Invalid) as refused:
        require_possible({**SIZE, **changed})
    assert [fault.field for fault in refused.value.faults] == [field]


@pytest.mark.parametrize("name", SIZE)
def test_a_size_that_lacks_any_number_is_not_complete(name):
    assert is_complete(SIZE)
    assert not is_complete({**SIZE, name: None})
