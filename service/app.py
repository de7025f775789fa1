"""The application."""

from __future__ import annotations

from flask import Flask
from flask.typing import ResponseReturnValue

from models.tables.engine import Database
from service import docs, openapi, pages, problems
from service.config import Settings
from service.strict_json import FastJson
from service.work import unit_of_work


class Service(Flask):
    """Flask with one transaction around every request."""

    json_provider_class = FastJson

    def dispatch_request(self) -> ResponseReturnValue:
        """Answer a request inside its unit of work."""
        with unit_of_work():
            return super().dispatch_request()


def create_app(settings: Settings) -> Service:
    """Return the application for some settings; its database must have been upgraded."""
    app = Service(__name__, static_folder=None)
    app.config["HEELDEPTH"] = settings
    app.config["MAX_CONTENT_LENGTH"] = settings.most_body_bytes
    app.extensions["heeldepth"] = Database(settings.database_url, connections=2 * settings.threads)
    problems.register(app)
    openapi.register(app)
    for blueprint in (docs.blueprint, *pages.BLUEPRINTS):
        app.register_blueprint(blueprint)
    return app
