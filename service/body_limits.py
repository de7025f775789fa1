"""How much the bodies of requests may have, each and all together, and who may send a file."""

from __future__ import annotations

from threading import Lock
from typing import TYPE_CHECKING, Any

from flask import Flask
from waitress.parser import HTTPRequestParser
from werkzeug.exceptions import HTTPException
from werkzeug.test import EnvironBuilder

from models.domain.errors import HeeldepthError
from service.access import DECLARED, member_of_request
from service.config import Settings
from service.sessions import CSRF_HEADER
from service.views import UploadView

if TYPE_CHECKING:
    from service.app import Service

SHORT = 65_536
"""Bytes up to which a body counts for nothing: 900 connections hold 59 MB of them at most."""

UPLOADS_AT_ONCE = 4
"""Files that may be on their way at once, each as long as a file may be."""

OF_ONE_PERSON = 2
"""Files of one person that may be on their way at once: nobody keeps all others out."""

OTHERS_AT_ONCE = 50
"""Other bodies that may be on their way at once, each as long as they may be."""

SHOWN = ("Authorization", "Cookie", CSRF_HEADER)
"""Headers by which a request shows who asks."""


class Budget:
    """Bytes that bodies on their way may have together."""

    def __init__(self, most: int) -> None:
        self._left, self._lock = most, Lock()

    def take(self, number: int) -> bool:
        """Take some bytes, and return whether there were so many."""
        with self._lock:
            if number > self._left:
                return False
            self._left -= number
            return True

    def give_back(self, number: int) -> None:
        """Give back what was taken."""
        with self._lock:
            self._left += number


class Bounds:
    """What bodies may have in one application."""

    def __init__(self, app: Service) -> None:
        settings: Settings = app.config["HEELDEPTH"]
        self._app = app
        self.usual, self.file = settings.most_body_bytes, settings.most_upload_bytes
        self.files = Budget(UPLOADS_AT_ONCE * self.file)
        self.others = Budget(OTHERS_AT_ONCE * self.usual)
        self._of_person: dict[str, Budget] = {}

    def files_of(self, person_id: str) -> Budget:
        """Return how many files a person may still send meanwhile."""
        return self._of_person.setdefault(person_id, Budget(OF_ONE_PERSON))

    def sender_of(self, request: HTTPRequestParser) -> str | None:
        """Return who makes an upload and may, None where a request is none or nobody may."""
        keys = {name: name.upper().replace("-", "_") for name in SHOWN}
        shown = [
            (name, request.headers[key]) for name, key in keys.items() if key in request.headers
        ]
        builder = EnvironBuilder(request.path, method=request.command, headers=shown)
        with self._app.request_context(builder.get_environ()) as context:
            try:
                view = _upload_of(self._app, context.request)
                if view is None:
                    return None
                asker, actor = member_of_request((context.request.view_args or {})["group_id"])
                actor.require(getattr(view, DECLARED))
            except (HeeldepthError, HTTPException):
                return None
        return asker.person_id


def _upload_of(app: Flask, request: Any) -> Any:
    """Return the method of the view that takes a file, None where the request is for another."""
    if request.routing_exception is not None or request.endpoint is None:
        return None
    view = getattr(app.view_functions[request.endpoint], "view_class", None)
    if view is None or not issubclass(view, UploadView):
        return None
    return getattr(view, request.method.lower(), None)
