"""Pages for people: server-rendered, on the same actions and domain code as the API."""

from __future__ import annotations

from service.pages import ask, start

BLUEPRINTS = (start.blueprint, ask.blueprint)
