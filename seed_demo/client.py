"""A client of the REST interface that speaks plain HTTP, as any script could."""

from __future__ import annotations

import http.client
import json
from types import TracebackType
from typing import Any, Self


class Refused(Exception):
    """The service answered with a problem."""

    def __init__(self, status: int, problem: dict[str, Any]) -> None:
        super().__init__(f"{status}: {problem.get('detail')}")
        self.status = status


class Client:
    """One connection to a service, with a token once there is one."""

    def __init__(self, host: str, port: int, token: str | None = None) -> None:
        self._connection = http.client.HTTPConnection(host, port, timeout=60)
        self.token = token

    def get(self, path: str) -> dict[str, Any]:
        """Return what is at a path."""
        return self._ask("GET", path, None, None)

    def post(self, path: str, body: Any, key: str | None = None) -> dict[str, Any]:
        """Send something; with a key it is done once, however often it is sent."""
        return self._ask("POST", path, body, key)

    def _ask(self, method: str, path: str, body: Any, key: str | None) -> dict[str, Any]:
        headers = {"Authorization": f"Bearer {self.token}"} if self.token else {}
        if key:
            headers["Idempotency-Key"] = key
        text = None
        if body is not None:
            text = json.dumps(body)
            headers["Content-Type"] = "application/json"
        self._connection.request(method, path, text, headers)
        answer = self._connection.getresponse()
        content: dict[str, Any] = json.loads(answer.read())
        if answer.status >= 400:
            raise Refused(answer.status, content)
        return content

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self._connection.close()
