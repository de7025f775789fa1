import pytest

from models.domain import errors
from models.domain.errors import Conflict, Fault, HeeldepthError, Invalid, shown


def test_a_fault_says_field_value_and_what_would_be_right():
    fault = Fault("heel_stitches", -3, "it must be a whole number from 8 to 400 (stitches)")
    assert str(fault) == "heel_stitches is -3: it must be a whole number from 8 to 400 (stitches)"


def test_a_missing_field_is_called_missing():
    assert (
        str(Fault("fit_score", None, "say how it fits")) == "fit_score is missing: say how it fits"
    )


def test_a_fault_moved_under_a_parent_keeps_value_and_advice():
    moved = Fault("foot_length_mm", 9.8, "look again").under("foot").under("report")
    assert moved == Fault("report.foot.foot_length_mm", 9.8, "look again")


def test_invalid_names_every_fault_it_carries():
    faults = [Fault("a", 1, "be 2"), Fault("b", "x", "be a number")]
    error = Invalid(iter(faults))
    assert error.faults == tuple(faults)
    assert str(error) == "a is 1: be 2; b is 'x': be a number"


@pytest.mark.parametrize(
    "value", ["x" * 10_000, 10**300, "'" * 500, b"\0" * 900, {"a": 1}, [[[1]]] * 99, 1e308]
)
def test_no_value_makes_a_message_long(value):
    assert len(shown(value)) <= 40


@pytest.mark.parametrize("sign", [1, -1])
def test_a_number_of_thousands_of_digits_can_be_shown(sign):
    # Python refuses to write out an int of more than 4,300 digits; a message must not fail on it.
    assert 0 < len(shown(sign * 10**5000)) <= 40


def test_containers_are_described_and_not_repeated():
    assert shown({"secret": "abc"}) == "an object of 1"
    assert shown(["abc", "def"]) == "a list of 2"


@pytest.mark.parametrize(
    "name",
    [
        "Invalid",
        "Unauthenticated",
        "Forbidden",
        "NotFound",
        "Conflict",
        "Stale",
        "KeyReused",
        "Closed",
        "Unavailable",
    ],
)
def test_every_error_belongs_to_the_one_tree(name):
    assert issubclass(getattr(errors, name), HeeldepthError)


def test_a_stale_version_and_a_reused_key_are_conflicts():
    assert issubclass(errors.Stale, Conflict)
    assert issubclass(errors.KeyReused, Conflict)
    assert not issubclass(errors.Invalid, Conflict)
