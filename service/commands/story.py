"""The demo: an invented scenario told through the real interface."""

from __future__ import annotations

import importlib

import click

from service.config import Settings


@click.command()
def demo() -> None:
    """Seed an invented group through the HTTP interface, calibrate, and print a suggestion."""
    # The demo is a client of this service and stands above it, so it is only loaded when asked for.
    importlib.import_module("seed_demo.story").tell(Settings.from_environment())
