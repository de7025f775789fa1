"""Every action refuses a role and a token by itself, whatever the view before it checks."""

from __future__ import annotations

import inspect
from importlib import import_module
from types import GeneratorType
from typing import Any

import pytest

from models.actions.actor import Actor, Asker
from models.domain.errors import Forbidden
from models.domain.roles import ALLOWED, EVERY_SCOPE, Action, Role

REQUIRED = {
    "accounts.set_account": Action.KEEP_ACCOUNT,
    "accounts.read_account": Action.KEEP_ACCOUNT,
    "activations.activate": Action.CALIBRATE,
    "activations.roll_back": Action.CALIBRATE,
    "adoptions.adopt": Action.KEEP_DESIGNS,
    "adoptions.undo": Action.KEEP_DESIGNS,
    "adoptions.list_adoptions": Action.READ_GROUP,
    "answer_file.answer_file": Action.ASK,
    "calibrations.keep_calibration": Action.CALIBRATE,
    "calibrations.list_calibrations": Action.READ_GROUP,
    "calibrations.read_calibration": Action.READ_GROUP,
    "cards.read_card": Action.READ_GROUP,
    "design_defaults.found_defaults": Action.READ_GROUP,
    "effects.read_effects": Action.READ_GROUP,
    "export_reports.exported": Action.READ_OWN,
    "feet.list_feet": Action.READ_OWN,
    "feet.delete_foot": Action.RECORD,
    "groups.read_group": Action.READ_GROUP,
    "import_reports.take_in": Action.RECORD_FOR_OTHERS,
    "invitations.invite": Action.INVITE,
    "invitations.list_invitations": Action.INVITE,
    "invitations.read_invitation": Action.INVITE,
    "judging.calibrated": Action.CALIBRATE,
    "keep_designs.create_design": Action.KEEP_DESIGNS,
    "keep_designs.rename_design": Action.KEEP_DESIGNS,
    "keep_designs.delete_design": Action.KEEP_DESIGNS,
    "keep_designs.own_design": Action.READ_GROUP,
    "keep_designs.list_designs": Action.READ_GROUP,
    "leaving.own_places": Action.ERASE,
    "leaving.own_place": Action.ERASE,
    "leaving.oneself": Action.ERASE,
    "leaving.reporter": Action.ERASE_REPORTERS,
    "members.list_members": Action.READ_GROUP,
    "members.member_to_change": Action.KEEP_MEMBERS,
    "members.change_role": Action.APPOINT,
    "members.leave": Action.LEAVE,
    "members.member_named": Action.KEEP_MEMBERS,
    "own_socks.own_socks": Action.READ_OWN,
    "pattern_tables.lines_of": Action.READ_GROUP,
    "reporters.reporter": Action.RECORD,
    "reporters.reporters": Action.RECORD_FOR_OTHERS,
    "reports.own_report": Action.RECORD,
    "reports.report_to_correct": Action.RECORD,
    "reports.list_reports": Action.READ_OWN,
    "resets.issue_for_member": Action.RESET_PASSWORDS,
    "reviews.list_held": Action.REVIEW,
    "reviews.correctable": Action.RECORD,
    "reviews.review": Action.REVIEW,
    "screening.doubtful": Action.CALIBRATE,
    "screening.hold": Action.CALIBRATE,
    "sharing.contribute": Action.SHARE,
    "sharing.revoke": Action.SHARE,
    "sharing.use_pool": Action.SHARE,
    "sharing.leave_pool": Action.SHARE,
    "sharing.take_in": Action.SHARE,
    "sharing.drop": Action.SHARE,
    "size_files.export_rows": Action.READ_GROUP,
    "sizes.own_size": Action.READ_GROUP,
    "sizes.add_size": Action.KEEP_DESIGNS,
    "sizes.amend_size": Action.KEEP_DESIGNS,
    "sizes.delete_size": Action.KEEP_DESIGNS,
    "sizes.put_sizes": Action.KEEP_DESIGNS,
    "suggestions.ask": Action.ASK,
    "suggestions.read_suggestion": Action.READ_OWN,
    "suggestions.list_suggestions": Action.READ_OWN,
    "test_knits.read_plan": Action.READ_GROUP,
    "timeline.timeline": Action.READ_GROUP,
    "tokens.make_token": Action.KEEP_ACCOUNT,
    "tokens.list_tokens": Action.KEEP_ACCOUNT,
    "tokens.revoke_token": Action.KEEP_ACCOUNT,
    "tracking.outcomes": Action.READ_GROUP,
    "wider_pool.read_pool": Action.READ_GROUP,
    "wider_pool.read_summaries": Action.SHARE,
}
"""What each function asks leave for, before it reads or writes anything."""

ELSEWHERE = {Action.LIST_GROUPS, Action.FOUND, Action.JOIN, Action.TAKE_OUT}
"""Actions of people rather than members, which no function of this table stands for."""


def call(name: str, who: Actor | Asker) -> None:
    """Call a function with somebody who asks and nothing else: there is no database either."""
    module, function = name.split(".")
    called = getattr(import_module(f"models.actions.{module}"), function)
    nothing: dict[str, Any] = {
        one.name: None
        for one in inspect.signature(called).parameters.values()
        if one.default is inspect.Parameter.empty and one.name not in ("actor", "asker")
    }
    asks = {"actor", "asker"} & set(inspect.signature(called).parameters)
    made = called(**nothing, **dict.fromkeys(asks, who))
    if isinstance(made, GeneratorType):
        next(made)


def actor(role: Role, *scopes: Any) -> Actor:
    return Actor("0" * 32, role, "1" * 32, "Invented", frozenset(scopes))


def test_every_action_is_required_somewhere() -> None:
    assert set(REQUIRED.values()) == set(Action) - ELSEWHERE


@pytest.mark.parametrize("name", REQUIRED)
def test_an_action_refuses_every_role_that_may_not(name: str) -> None:
    action = REQUIRED[name]
    for role in set(Role) - ALLOWED[action].roles:
        with pytest.raises(Forbidden, match=f"a {role} may not {action}"):
            call(name, actor(role, *EVERY_SCOPE))


@pytest.mark.parametrize("name", REQUIRED)
def test_an_action_refuses_a_token_that_lacks_any_of_its_scopes(name: str) -> None:
    action = REQUIRED[name]
    module, function = name.split(".")
    called = getattr(import_module(f"models.actions.{module}"), function)
    for scope in ALLOWED[action].scopes:
        scopes = EVERY_SCOPE - {scope}
        person = "actor" not in inspect.signature(called).parameters
        who = Asker("1" * 32, scopes) if person else actor(Role.STEWARD, *scopes)
        with pytest.raises(Forbidden, match=f"this token may not {action}"):
            call(name, who)
