"""What the tests of pages share: an invented knitter's entries."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from flask.testing import FlaskClient

from service.pages.filling import filled
from service.pages.kept import COOKIE, Kept
from service.pages.steps import STEPS

TYPED = {
    "foot_length_mm": "25,2",
    "foot_circumference_mm": "23.6",
    "heel_diagonal_mm": "31,8 cm",
    "ankle_circumference_mm": "",
    "stitches_per_10cm": "30",
    "rounds_per_10cm": "42",
    "yarn_weight": "1",
}

Entries = Callable[..., Kept]


@pytest.fixture(scope="session")
def entries() -> Entries:
    """Return a function that answers every question, some in another way than usual."""

    def typed(**changed: str) -> Kept:
        kept, form = Kept(), {**TYPED, **changed}
        for step in STEPS:
            names = [*(quantity.name for quantity in step.fields), "width"]
            kept = filled(kept, step, {name: form[name] for name in names if name in form})
        return kept

    return typed


@pytest.fixture
def browser(lasting) -> FlaskClient:
    """Return a client with a jar of its own."""
    client: FlaskClient = lasting.app.test_client()
    return client


@pytest.fixture
def after_typing(browser: FlaskClient, entries: Entries) -> Callable[..., FlaskClient]:
    """Return a function that gives a client in which every question was answered."""

    def typed(**changed: str) -> FlaskClient:
        browser.set_cookie(COOKIE, entries(**changed).dump(), path="/ask")
        return browser

    return typed
