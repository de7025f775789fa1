"""What the service answers about members, invitations, tokens and accounts."""

from __future__ import annotations

from marshmallow import fields

from service.answers import Answer, Group, page_of

_ONCE = "Shown this once"


class Consent(Answer):
    """What somebody agrees to on joining."""

    version = fields.Integer()
    text = fields.List(fields.String())


class Member(Answer):
    """Somebody's place in a group."""

    id = fields.String()
    name = fields.String()
    role = fields.String()
    joined = fields.Boolean(metadata={"description": "Whether a person has this place."})
    joined_at = fields.DateTime()
    left_at = fields.DateTime(allow_none=True)
    version = fields.Integer()


class Counts(Answer):
    """How many people are in a group, by role."""

    knitter = fields.Integer()
    designer = fields.Integer()
    steward = fields.Integer()


class Members(page_of(Member, "MembersPage")):  # type: ignore[misc]
    """A page of members, with how many there are of each role."""

    counts = fields.Nested(Counts)


class Invitation(Answer):
    """An invitation, without its code."""

    id = fields.String()
    role = fields.String()
    reporter = fields.String(allow_none=True)
    uses = fields.Integer()
    uses_left = fields.Integer()
    created_at = fields.DateTime()
    expires_at = fields.DateTime()
    revoked_at = fields.DateTime(allow_none=True)


Invitations = page_of(Invitation, "Invitations")


class NewInvitationAnswer(Invitation):
    """An invitation with its code."""

    code = fields.String(metadata={"description": f"{_ONCE}; hand it to whom you invite."})


class JoinedAnswer(Group):
    """The group that somebody joined."""

    member_id = fields.String()
    name_in_group = fields.String()
    token = fields.String(
        allow_none=True, metadata={"description": f"{_ONCE}; null where you had one."}
    )


class Token(Answer):
    """A token, without itself."""

    id = fields.String()
    label = fields.String()
    scopes = fields.List(fields.String())
    created_at = fields.DateTime()
    expires_at = fields.DateTime(allow_none=True)
    last_used_at = fields.DateTime(
        allow_none=True, metadata={"description": "Noted at most once a minute."}
    )


class Tokens(Answer):
    """A person's tokens."""

    items = fields.List(fields.Nested(Token))


class NewTokenAnswer(Token):
    """A token with itself."""

    token = fields.String(metadata={"description": f"{_ONCE}."})


class Account(Answer):
    """How a person logs in."""

    username = fields.String()
    created_at = fields.DateTime()
    changed_at = fields.DateTime()
    reset_at = fields.DateTime(
        allow_none=True, metadata={"description": "When a one-time code last set the password."}
    )


class Session(Answer):
    """A session that was opened; its id is in the cookie only."""

    csrf_token = fields.String(
        metadata={"description": "Send it as X-CSRF-Token with whatever changes something."}
    )
    expires_at = fields.DateTime()
    password_replaced_at = fields.DateTime(
        allow_none=True,
        metadata={
            "description": "When the password was changed or reset, at the first login since."
        },
    )


class Reset(Answer):
    """A one-time code for a new password."""

    code = fields.String(metadata={"description": f"{_ONCE}; hand it to the member."})
    expires_at = fields.DateTime()


class Erased(Answer):
    """What went when somebody was erased."""

    feet = fields.Integer()
    reports = fields.Integer()
    suggestions = fields.Integer()
    calibrations = fields.Integer(metadata={"description": "Those that rested on what went."})
    calibrated = fields.Dict(
        keys=fields.String(),
        values=fields.String(),
        metadata={"description": "By group id, the calibration made of what is left."},
    )
