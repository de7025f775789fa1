"""What lies in the queue: which of our tasks, and the id of a job, as JSON.

The queue's library would pickle its messages, and whoever unpickles runs what somebody wrote there:
one row in the queue would be as good as a shell of the worker. Rows of the database say what a job
is; a message only wakes somebody for it, so what is not understood is dropped and logged.
"""

from __future__ import annotations

import json
import re
from typing import Any

from huey.registry import Message
from huey.serializer import Serializer

_ID = re.compile(r"[0-9a-f]{32}")
_NAME = re.compile(r"[\w.]{1,200}")
_TASK_ID = re.compile(r"[0-9a-f-]{36}")


class PlainMessages(Serializer):
    """Messages of tasks that take one job's id, or nothing."""

    def _serialize(self, data: Message) -> bytes:
        [*job] = data.args
        return json.dumps({"id": data.id, "name": data.name, "jobs": job}).encode()

    def _deserialize(self, data: bytes) -> Message:
        """Return a message.

        Raises
        ------
        ValueError
            Where it is none of ours, such as a pickle.

        """
        found = json.loads(data)
        if not isinstance(found, dict) or set(found) != {"id", "name", "jobs"}:
            raise ValueError("no message of ours")
        jobs = found["jobs"]
        told = [(_TASK_ID, found["id"]), (_NAME, found["name"])]
        if not isinstance(jobs, list) or len(jobs) > 1:
            raise ValueError("a message names one job at most")
        told += [(_ID, one) for one in jobs]
        if not all(_is(pattern, value) for pattern, value in told):
            raise ValueError("no message of ours")
        return Message(found["id"], found["name"], retries=0, args=tuple(jobs), kwargs={})


def _is(pattern: re.Pattern[str], value: Any) -> bool:
    return isinstance(value, str) and pattern.fullmatch(value) is not None
