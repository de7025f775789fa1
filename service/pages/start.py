"""The start page, and an answer for an invented foot."""

from __future__ import annotations

from flask import render_template

from service.pages.answering import Shown, from_geometry
from service.pages.frame import Pages
from service.pages.invented import INVENTED

blueprint = Pages("pages", static_folder="../static")


@blueprint.get("/")
def start() -> str:
    """Say what this is, on one screen."""
    return render_template("pages/start.html", shown=_invented())


@blueprint.get("/example")
def example() -> str:
    """Show an answer for an invented foot."""
    return render_template("pages/answer.html", shown=_invented(), invented=INVENTED)


def _invented() -> Shown:
    return Shown(from_geometry(INVENTED), "cm")
