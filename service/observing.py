"""What those who keep the service running see of a request: its id, how it went, how long it took.

Nothing here says who asked or for what: requests go by the rule of their path, never by the path
itself, which may hold an invitation's code.

References
----------
Prometheus text exposition format, written by the Prometheus project's own library; its naming
advice (base units, `_total`, `_seconds`).

"""

from __future__ import annotations

import re
import time
from uuid import uuid4

from flask import Blueprint, Flask, Response, current_app, g, request
from prometheus_client import CollectorRegistry, Counter, Histogram, ProcessCollector
from prometheus_client.exposition import CONTENT_TYPE_LATEST, generate_latest

from models.tables.engine import Database
from service.access import open_to_everybody
from service.config import Settings
from service.job_metrics import JobMetrics
from service.logs import requests_log

REQUEST_ID = "X-Request-ID"
NO_RULE = "none"
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})

_POSSIBLE_ID = re.compile(r"[A-Za-z0-9-]{8,64}")


class Metrics:
    """The figures of one application, counted since it started."""

    def __init__(self, database: Database) -> None:
        self.registry = CollectorRegistry()
        ProcessCollector(registry=self.registry)
        self.registry.register(JobMetrics(database))
        self._requests = Counter(
            "heeldepth_requests",
            "Requests answered.",
            ("method", "rule", "status"),
            registry=self.registry,
        )
        self._seconds = Histogram(
            "heeldepth_request_seconds",
            "Time to answer a request, without what the network takes.",
            ("method", "rule"),
            registry=self.registry,
        )

    def note(self, method: str, rule: str, status: int, seconds: float) -> None:
        """Count a request that was answered."""
        self._requests.labels(method, rule, str(status)).inc()
        self._seconds.labels(method, rule).observe(seconds)


def register(app: Flask, settings: Settings) -> None:
    """Give every request its id, and note how it went where anybody wants to know."""
    app.extensions["heeldepth_metrics"] = Metrics(app.extensions["heeldepth"])
    app.before_request(_begun)
    app.after_request(_named)
    if settings.metrics == "open":
        app.register_blueprint(_shown())
        app.after_request(_counted)
    if settings.logs == "json":
        app.after_request(_logged)


def _begun() -> None:
    g.begun = time.perf_counter()
    g.request_id = _given_id() or uuid4().hex


def _given_id() -> str | None:
    """Return the id that a trusted proxy gave the request; a stranger's text must not be logged."""
    given = request.headers.get(REQUEST_ID, "")
    trusted = current_app.config["HEELDEPTH"].trusted_proxies > 0
    return given if trusted and _POSSIBLE_ID.fullmatch(given) else None


def _named(answer: Response) -> Response:
    answer.headers[REQUEST_ID] = g.request_id
    return answer


def _counted(answer: Response) -> Response:
    metrics: Metrics = current_app.extensions["heeldepth_metrics"]
    metrics.note(_method(), _rule(), answer.status_code, time.perf_counter() - g.begun)
    return answer


def _logged(answer: Response) -> Response:
    taken = round((time.perf_counter() - g.begun) * 1000, 1)
    said = {"method": _method(), "rule": _rule(), "status": answer.status_code, "ms": taken}
    requests_log.info("answered", extra=said)
    return answer


def _method() -> str:
    return request.method if request.method in METHODS else "OTHER"


def _rule() -> str:
    return NO_RULE if request.url_rule is None else request.url_rule.rule


def _shown() -> Blueprint:
    blueprint = Blueprint("metrics", __name__)

    @blueprint.get("/metrics")
    @open_to_everybody
    def metrics() -> Response:
        """Show all figures to whoever collects them."""
        counted: Metrics = current_app.extensions["heeldepth_metrics"]
        return Response(generate_latest(counted.registry), content_type=CONTENT_TYPE_LATEST)

    return blueprint
