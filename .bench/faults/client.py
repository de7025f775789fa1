"""A client that keeps its connection, and says what became of a request."""

from __future__ import annotations

import http.client
import json
from dataclasses import dataclass
from email.message import Message
from typing import Any

HOST = "127.0.0.1"
PATIENCE = 60
BROKEN = (OSError, http.client.HTTPException)
"""What a request raises whose answer never came."""


@dataclass(frozen=True)
class Answer:
    """What the service answered."""

    status: int
    headers: Message
    content: bytes

    @property
    def body(self) -> Any:
        """The JSON of the answer."""
        return json.loads(self.content)


class Client:
    """One connection to the service, opened again where it broke."""

    def __init__(self, port: int, token: str = "", patience: float = PATIENCE) -> None:
        self.token = token
        self._connection = http.client.HTTPConnection(HOST, port, timeout=patience)

    def ask(self, method: str, path: str, body: Any = None, **headers: str) -> Answer:
        """Send a request, with a body as JSON unless it is bytes, and return the answer.

        Raises
        ------
        OSError, http.client.HTTPException
            Where no answer came (see `BROKEN`).

        """
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        if self.token:
            sent["Authorization"] = f"Bearer {self.token}"
        if body is not None and not isinstance(body, bytes):
            body = json.dumps(body).encode()
            sent["Content-Type"] = "application/json"
        try:
            self._connection.request(method, path, body, sent)
            answer = self._connection.getresponse()
            return Answer(answer.status, answer.headers, answer.read())
        except BROKEN:
            self._connection.close()
            raise

    def made(self, path: str, body: Any) -> Any:
        """Return what a POST created.

        Raises
        ------
        RuntimeError
            Where it was refused.

        """
        answer = self.ask("POST", path, body)
        if answer.status != 201:
            raise RuntimeError(f"POST {path}: {answer.status} {answer.content.decode()}")
        return answer.body

    def close(self) -> None:
        """Give the connection back."""
        self._connection.close()
