"""Pages for people: server-rendered, on the same actions and domain code as the API."""

from __future__ import annotations

from flask import Flask

from service.pages import (
    ask,
    asked,
    calibrations,
    designs,
    failing,
    group,
    learn,
    leaving,
    login,
    people,
    plans,
    progress,
    reviews,
    sizes,
    socks,
    start,
    stewards,
    tell,
)

BLUEPRINTS = (
    start.blueprint,
    ask.blueprint,
    login.blueprint,
    leaving.blueprint,
    people.blueprint,
    group.blueprint,
    asked.blueprint,
    tell.blueprint,
    socks.blueprint,
    learn.blueprint,
    calibrations.blueprint,
    designs.blueprint,
    sizes.blueprint,
    plans.blueprint,
    progress.blueprint,
    stewards.blueprint,
    reviews.blueprint,
)


def register(app: Flask) -> None:
    """Add all pages to an application."""
    failing.register(app)
    for blueprint in BLUEPRINTS:
        app.register_blueprint(blueprint)
