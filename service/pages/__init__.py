"""Pages for people: server-rendered, on the same actions and domain code as the API."""

from __future__ import annotations

from flask import Flask

from service.pages import (
    ask,
    calibrations,
    designs,
    failing,
    group,
    learn,
    login,
    people,
    plans,
    reviews,
    sizes,
    start,
    stewards,
)

BLUEPRINTS = (
    start.blueprint,
    ask.blueprint,
    login.blueprint,
    people.blueprint,
    group.blueprint,
    learn.blueprint,
    calibrations.blueprint,
    designs.blueprint,
    sizes.blueprint,
    plans.blueprint,
    stewards.blueprint,
    reviews.blueprint,
)


def register(app: Flask) -> None:
    """Add all pages to an application."""
    failing.register(app)
    for blueprint in BLUEPRINTS:
        app.register_blueprint(blueprint)
