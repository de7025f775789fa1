"""Keeping a suggestion, whoever asks for it: a request or a page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.exc import IntegrityError

from models.actions import suggestions
from models.actions.actor import Actor
from service.work import session, undo


def suggested(actor: Actor, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return a suggestion that is kept, anew where what answered was erased at the same moment.

    Raises
    ------
    Invalid
        Where the question cannot be answered; every fault names its field.

    """
    try:
        return suggestions.ask(session(), actor, given)
    except IntegrityError:
        undo()
        return suggestions.ask(session(), actor, given)
