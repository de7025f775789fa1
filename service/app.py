"""The application."""

from __future__ import annotations

from collections.abc import Callable
from threading import BoundedSemaphore
from typing import Any

from flask import Flask, request
from flask.typing import ResponseReturnValue
from werkzeug.middleware.proxy_fix import ProxyFix

from models.tables.engine import Database
from service import (
    docs,
    headers,
    last_used,
    limits,
    observing,
    openapi,
    pages,
    problems,
    replica,
    results,
)
from service.apart import Here, Workroom
from service.config import Settings
from service.jobs.engine import Engine
from service.logs import where_it_broke
from service.results import Results
from service.strict_json import FastJson
from service.work import from_either


class Service(Flask):
    """Flask with one transaction around every request."""

    json_provider_class = FastJson

    def dispatch_request(self) -> ResponseReturnValue:
        """Answer a request inside its unit of work."""
        return from_either(super().dispatch_request)

    def ensure_sync(self, func: Callable[..., Any]) -> Callable[..., Any]:
        """Return a view or a hook as it is: none is a coroutine, and Flask would look at each."""
        return func

    def log_exception(self, exc_info: Any) -> None:
        """Log where it broke, without the path: it may hold what was sent."""
        kind, error, _ = exc_info
        where, frames = request.url_rule or "no rule", where_it_broke(error)
        self.logger.error("%s on %s %s\n%s", kind.__name__, request.method, where, frames)


def create_app(
    settings: Settings, requests: Workroom | None = None, jobs: Workroom | None = None
) -> Service:
    """Return the application for some settings; its database must have been upgraded.

    What takes long is done in a workroom where there is one, else in the thread that asks. Jobs
    have one of their own, so that no request waits for them.
    """
    app = Service(__name__, static_folder=None)
    app.config["HEELDEPTH"] = settings
    app.config["MAX_CONTENT_LENGTH"] = settings.most_body_bytes
    connections = 2 * settings.threads + 3 * settings.workers
    database = Database(settings.database_url, connections=connections)
    app.extensions["heeldepth"] = database
    app.extensions["heeldepth_sending"] = BoundedSemaphore(max(1, settings.threads // 2))
    app.extensions["heeldepth_workroom"] = requests or Here(database)
    app.extensions["heeldepth_jobs"] = Engine(database, settings, jobs)
    results.register(app, Results(database, requests or Here(database), settings.threads))
    replica.register(app, settings)
    if settings.trusted_proxies:
        hops = settings.trusted_proxies
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=hops, x_proto=hops)  # type: ignore[method-assign]
    observing.register(app, settings)
    headers.register(app)
    limits.register(app, settings)
    last_used.register(app)
    problems.register(app)
    openapi.register(app)
    app.register_blueprint(docs.blueprint)
    pages.register(app)
    return app
