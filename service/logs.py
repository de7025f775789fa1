"""Logs: warnings in plain lines, or everything as one JSON object a line.

Each line that belongs to a request carries its id, which the answer carries too. Lines of a job
carry the job's, the first of them also the id of the request that asked for it.
"""

from __future__ import annotations

import logging
import sys
import time
from traceback import format_tb

from flask import g, has_request_context
from pythonjsonlogger.json import JsonFormatter

FIELDS = "%(asctime)s %(levelname)s %(name)s %(message)s"
PLAIN = "%(asctime)s %(levelname)s %(request_id)s %(message)s"
SAID = {"asctime": "time", "levelname": "level", "name": "logger"}

requests_log = logging.getLogger("heeldepth.requests")
jobs_log = logging.getLogger("heeldepth.jobs")


class OfRequest(logging.Filter):
    """Adds the id of the request to what is logged while it is answered."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let every record through, with its request's id or a dash."""
        known = has_request_context() and "request_id" in g
        record.request_id = g.request_id if known else "-"
        return True


def write_logs(form: str) -> None:
    """Send the logs of this process to standard error, `plain` or `json`."""
    handler = logging.StreamHandler(sys.stderr)
    handler.addFilter(OfRequest())
    handler.setFormatter(_formatter(form))
    logging.getLogger().addHandler(handler)
    if form == "json":
        for log in (requests_log, jobs_log):
            log.setLevel(logging.INFO)
    # Waitress would warn of every request that waits for a thread, one line each.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)


def where_it_broke(error: BaseException | None) -> str:
    """Return the frames of an error without its message, which may hold what somebody sent."""
    return "" if error is None else "".join(format_tb(error.__traceback__))


def _formatter(form: str) -> logging.Formatter:
    """Return a formatter whose moments are RFC 3339 in UTC."""
    found = logging.Formatter(PLAIN)
    if form == "json":
        found = JsonFormatter(f"{FIELDS} %(request_id)s", rename_fields=SAID, timestamp=False)
    found.converter = time.gmtime
    found.default_time_format, found.default_msec_format = "%Y-%m-%dT%H:%M:%S", "%s.%03dZ"
    return found
