"""What follows from a design: which socks to have test-knitted, and the table for its pattern."""

from __future__ import annotations

from flask import render_template, request

from models.actions import pattern_tables
from models.domain.care import CAUTIONS
from models.domain.roles import Action
from service.access import actor
from service.default_schemas import PlanQuery
from service.pages.designs import DESIGNS, own
from service.pages.forms import Field, Form, attempt, loaded
from service.pages.frame import Pages
from service.pages.visitors import only_members
from service.results import result
from service.work import session

blueprint = Pages("plan_pages", url_prefix=f"{DESIGNS}/<hexid:design_id>")

PLANNING = Form("Test knits", "Plan", (Field("socks", "Socks to have knitted"),))


@blueprint.get("/plan")
@only_members(Action.READ_GROUP)
def plan(design_id: str) -> str | tuple[str, int]:
    """Show which socks would settle the defaults fastest."""
    design = own(design_id)
    with attempt(PLANNING) as tried:
        socks = loaded(request.args, PlanQuery())["socks"]
        planned = result(actor(), "plan", design_id=design.id, socks=socks)
        return render_template(
            "pages/plan.html", design=design, planned=planned, socks=socks, faults={}
        )
    faults = {problem.name: problem for problem in tried.problems}
    page = render_template(
        "pages/plan.html", design=design, problems=tried.problems, faults=faults, planned=None
    )
    return page, 422


@blueprint.get("/pattern")
@only_members(Action.READ_GROUP)
def pattern(design_id: str) -> str:
    """Show the heel of every size as a pattern prints it."""
    design = own(design_id)
    lines = pattern_tables.lines_of(session(), actor(), design)
    labels = list(lines[0].values)
    return render_template(
        "pages/pattern.html", design=design, labels=labels, lines=lines, cautions=CAUTIONS
    )
