"""What the service takes about members, invitations, tokens and accounts."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from marshmallow import ValidationError, fields, validate

from models.domain.joining import DAYS, TOKEN_DAYS, USES, USUAL_DAYS
from models.domain.passwords import (
    LONGEST_PASSWORD,
    SHORTEST_PASSWORD,
    USERNAME,
    username_wanted,
)
from models.domain.roles import Role, Scope
from service.fields import Consent, MayBeAbsent, Number, Strict, Text, always

LONGEST_CODE = 200


class Password(fields.String):
    """A password, taken as it is; nothing about it is ever given back."""

    def __init__(self, shortest: int = 1, *, required: bool = True, **options: Any) -> None:
        wanted = f"a password of {shortest} to {LONGEST_PASSWORD} characters"
        length = validate.Length(shortest, LONGEST_PASSWORD, error=wanted)
        super().__init__(
            error_messages=always(wanted),
            validate=length,
            required=required,
            load_only=True,
            **options,
        )


class Username(fields.String):
    """A username; capitals make no difference."""

    def __init__(self, **options: Any) -> None:
        super().__init__(error_messages=always(username_wanted()), required=True, **options)

    def _deserialize(self, value: Any, *args: Any, **options: Any) -> str:
        text = (super()._deserialize(value, *args, **options) or "").lower()
        if not USERNAME.fullmatch(text):
            raise ValidationError(username_wanted())
        return text


def _current_password() -> Password:
    return Password(
        required=False,
        load_default=None,
        metadata={"description": "Your password as it is now, if you have one."},
    )


def _one_of(words: Iterable[str], **options: Any) -> fields.String:
    known = [str(word) for word in words]
    wanted = f"one of {', '.join(known)}"
    return fields.String(
        validate=validate.OneOf(known, error=wanted),
        error_messages=always(wanted),
        **options,
    )


NewInvitation = Strict.from_dict(
    {
        "role": _one_of(Role, load_default=Role.KNITTER.value),
        "uses": Number(USES, required=False, load_default=1, allow_none=False),
        "days": Number(DAYS, required=False, load_default=USUAL_DAYS, allow_none=False),
        "reporter": Text(
            80,
            load_default=None,
            metadata={"description": "A reporter who has not joined, and who gets that place."},
        ),
    },
    name="NewInvitation",
)

NewMember = Strict.from_dict(
    {
        "name": Text(
            80,
            load_default=None,
            metadata={"description": "Your name in the group; none for a reporter's place."},
        ),
        "consent_version": Consent(),
    },
    name="NewMember",
)

MemberChange = Strict.from_dict({"role": _one_of(Role, required=True)}, name="MemberChange")

_SCOPES_WANTED = f"a list of one or more of {', '.join(Scope)}"

NewToken = Strict.from_dict(
    {
        "label": Text(80, required=True, metadata={"description": "What it is for."}),
        "scopes": fields.List(
            _one_of(Scope),
            load_default=list(map(str, Scope)),
            validate=validate.Length(1, len(Scope), error=_SCOPES_WANTED),
            error_messages={"invalid": _SCOPES_WANTED, "null": _SCOPES_WANTED},
            metadata={"description": "What it is good for; everything unless given."},
        ),
        "days": Number(TOKEN_DAYS, load_default=None),
        "current_password": _current_password(),
    },
    name="NewToken",
)

NewAccount = Strict.from_dict(
    {
        "username": Username(),
        "password": Password(SHORTEST_PASSWORD),
        "current_password": _current_password(),
    },
    name="NewAccount",
)

NewErasure = MayBeAbsent.from_dict({"current_password": _current_password()}, name="NewErasure")

NewSession = Strict.from_dict({"username": Username(), "password": Password()}, name="NewSession")

NewReset = MayBeAbsent.from_dict({}, name="NewReset")

Code = Strict.from_dict({"code": Text(LONGEST_CODE, required=True)}, name="Code")

NewPassword = Strict.from_dict(
    {
        "code": Text(
            LONGEST_CODE,
            required=True,
            load_only=True,
            metadata={"description": "The one-time code."},
        ),
        "password": Password(SHORTEST_PASSWORD),
    },
    name="NewPassword",
)

ExportForm = Strict.from_dict(
    {"form": _one_of(("json", "csv"), load_default="json")}, name="ExportForm"
)
