import pytest

from models.domain.roles import ALLOWED, Action, Role, may

# The table as the project means it, written a second time by hand.
EXPECTED = {
    "read the group": "KDS",
    "record own feet and reports": "KDS",
    "record feet and reports of other reporters": "S",
    "read every report with its foot": "S",
    "review held reports": "S",
    "ask for a suggestion": "KDS",
    "calibrate and activate": "DS",
    "keep designs and their defaults": "DS",
}
LETTERS = {"K": Role.KNITTER, "D": Role.DESIGNER, "S": Role.STEWARD}


@pytest.mark.parametrize("action", Action)
@pytest.mark.parametrize(("letter", "role"), LETTERS.items())
def test_a_role_may_do_exactly_what_the_table_says(letter, role, action):
    assert may(role, action) == (letter in EXPECTED[action])


def test_every_action_has_its_row_and_somebody_who_may_do_it():
    assert set(ALLOWED) == set(Action)
    assert all(ALLOWED.values())


def test_a_steward_may_do_whatever_anybody_may():
    assert all(Role.STEWARD in allowed for allowed in ALLOWED.values())


def test_a_knitter_neither_sees_other_feet_nor_calibrates():
    # The feet of other people identify them; only a steward sees them.
    may_not = {action for action in Action if not may(Role.KNITTER, action)}
    assert may_not == {
        Action.RECORD_FOR_OTHERS,
        Action.READ_EVERY_REPORT,
        Action.REVIEW,
        Action.CALIBRATE,
        Action.KEEP_DESIGNS,
    }


def test_a_role_is_read_from_its_stored_word():
    assert {Role(word) for word in ("knitter", "designer", "steward")} == set(Role)
    with pytest.raises(ValueError, match="owner"):
        Role("owner")
