import pytest

from models.domain.roles import ALLOWED, EVERY_SCOPE, Action, Role, Scope, covers, in_order, may

# The table as the project means it, written a second time by hand: roles, then scopes, by letter;
# d is the scope design, s the scope steward.
EXPECTED = {
    "READ_GROUP": "KDS r",
    "READ_OWN": "KDS r",
    "RECORD": "KDS p",
    "ASK": "KDS p",
    "RECORD_FOR_OTHERS": "S s",
    "REVIEW": "S s",
    "CALIBRATE": "DS d",
    "KEEP_DESIGNS": "DS rd",
    "SHARE": "S rs",
    "INVITE": "S s",
    "KEEP_MEMBERS": "S s",
    "APPOINT": "S rpds",
    "RESET_PASSWORDS": "S rpds",
    "LEAVE": "KDS rpds",
    "LIST_GROUPS": "KDS r",
    "FOUND": "KDS rpds",
    "JOIN": "KDS rpds",
    "KEEP_ACCOUNT": "KDS rpds",
    "TAKE_OUT": "KDS rpds",
    "ERASE": "KDS rpds",
    "ERASE_REPORTERS": "S rpds",
}
ROLES = {"K": Role.KNITTER, "D": Role.DESIGNER, "S": Role.STEWARD}
SCOPES = {"r": Scope.READ, "p": Scope.REPORT, "d": Scope.DESIGN, "s": Scope.STEWARD}


@pytest.mark.parametrize("action", Action)
@pytest.mark.parametrize(("letter", "role"), ROLES.items())
def test_a_role_may_do_exactly_what_the_table_says(letter, role, action):
    assert may(role, action) == (letter in EXPECTED[action.name].split()[0])


@pytest.mark.parametrize("action", Action)
def test_a_token_covers_exactly_what_the_table_says(action):
    needed = {SCOPES[letter] for letter in EXPECTED[action.name].split()[1]}
    assert ALLOWED[action].scopes == needed
    assert covers(EVERY_SCOPE, action)
    for scope in Scope:
        assert covers({scope}, action) == (needed == {scope})
        assert covers(EVERY_SCOPE - {scope}, action) == (scope not in needed)


def test_every_action_has_its_row_and_somebody_who_may_do_it():
    assert set(ALLOWED) == set(Action)
    assert all(rule.roles and rule.scopes for rule in ALLOWED.values())


def test_a_steward_may_do_whatever_anybody_may():
    assert all(Role.STEWARD in rule.roles for rule in ALLOWED.values())


def test_a_token_to_read_with_changes_nothing_and_none_but_a_full_one_touches_the_account():
    reading = {action for action in Action if covers({Scope.READ}, action)}
    assert reading == {Action.READ_GROUP, Action.READ_OWN, Action.LIST_GROUPS}
    assert not covers(EVERY_SCOPE - {Scope.STEWARD}, Action.KEEP_ACCOUNT)


def test_scopes_are_listed_once_and_in_order():
    assert in_order(["steward", "read", "steward"]) == [Scope.READ, Scope.STEWARD]


def test_a_role_is_read_from_its_stored_word():
    assert {Role(word) for word in ("knitter", "designer", "steward")} == set(Role)
    with pytest.raises(ValueError, match="owner"):
        Role("owner")
