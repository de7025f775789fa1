"""Ask: the questions one by one, the check of what was typed, and the answer."""

from __future__ import annotations

from dataclasses import replace

from flask import abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.wrappers import Response

from models.actions import groups
from models.domain.roles import Action
from models.tables.base import new_id
from service.drawings.tape import tape_drawing
from service.pages.answering import Shown, from_geometry
from service.pages.filling import filled, switched
from service.pages.frame import Pages
from service.pages.kept import COOKIE, KEPT_SECONDS, LENGTH_UNITS, Kept, is_id, load
from service.pages.reading import Asked, as_sent, proposal, read_all, read_question, read_step
from service.pages.sending import forget_typed, once_by_form, remember_unit
from service.pages.steps import STEPS, Step, after, before
from service.pages.visitors import enter, known, with_or_without_login
from service.suggesting import suggested
from service.work import session

blueprint = Pages("ask", url_prefix="/ask")

_STEPS = {step.key: step for step in STEPS}


@blueprint.get("")
def begin() -> Response:
    """Lead to the first question; a group that is named is to answer."""
    answer = redirect(url_for("ask.question", key=STEPS[0].key))
    group = request.args.get("group")
    return _keeping(replace(_kept(), group=group), answer) if is_id(group) else answer


@blueprint.get("/<key>")
def question(key: str) -> str:
    """Show one question with what was typed before."""
    return _page(_step(key), _kept(), Asked())


@blueprint.post("/<key>")
def take(key: str) -> Response | tuple[str, int]:
    """Take what was typed, and go on, back, or ask again."""
    step, go = _step(key), request.form.get("go", "on")
    kept = filled(_kept(), step, request.form)
    if go in LENGTH_UNITS:
        return _keeping(switched(kept, step, go), redirect(_here(step)))
    if go == "back":
        return _keeping(kept, redirect(_previous(step)))
    found = read_step(kept, step)
    if found.problems:
        return _page(step, kept, found), 422
    return _keeping(kept, redirect(_next(step)))


@blueprint.get("/check")
@with_or_without_login
def check() -> Response | str:
    """Show all that was typed, with what is in the way of an answer, and who can answer."""
    kept = _kept()
    asked, problems = read_question(kept)
    if not kept.entries:
        return redirect(url_for("ask.question", key=STEPS[0].key, lost="1"))
    shown = asked and Shown(from_geometry(asked), kept.unit)
    asker = known()
    mine = groups.groups_of(session(), asker.person_id) if asker else []
    return render_template(
        "pages/check.html",
        kept=kept,
        steps=STEPS,
        problems=problems,
        shown=shown,
        proposed=proposal(kept),
        groups=[group for group, _role in mine],
        key=new_id(),
    )


@blueprint.get("/answer")
def answer() -> Response | str:
    """Show geometry's answer, or what is in the way of one."""
    kept = _kept()
    asked, _problems = read_question(kept)
    if asked is None:
        return redirect(url_for("ask.check"))
    shown = Shown(from_geometry(asked), kept.unit)
    return render_template("pages/answer.html", shown=shown, invented=None)


@blueprint.post("/answer")
@with_or_without_login
@once_by_form
def ask_group() -> ResponseReturnValue:
    """Ask the group that was chosen, whose answer is kept there; without one geometry answers."""
    group_id, asker = request.form.get("group"), known()
    kept = replace(_kept(), group=group_id if is_id(group_id) else "")
    found = read_all(kept)
    if not kept.group or found.problems:
        return _keeping(kept, redirect(url_for("ask.answer")))
    if asker is None:
        return redirect(url_for("login.page", next=url_for("ask.check")))
    actor = enter(asker, kept.group, Action.ASK)
    personal = request.form.get("personal") == "yes"
    told = suggested(actor, {**as_sent(found.values), "personal": personal})
    where = url_for("asked.suggestion", group_id=kept.group, suggestion_id=told["id"])
    return _keeping(kept, redirect(where))


@blueprint.post("/forget")
def forget() -> Response:
    """Forget all that was typed."""
    return forget_typed(redirect(url_for("pages.start")))


def _step(key: str) -> Step:
    return _STEPS.get(key) or abort(404)


def _kept() -> Kept:
    return load(request.cookies.get(COOKIE, ""))


def _keeping(kept: Kept, answer: Response) -> Response:
    """Let the browser keep what was typed, for the pages of Ask only."""
    answer.set_cookie(
        COOKIE,
        kept.dump(),
        max_age=KEPT_SECONDS,
        path=url_for("ask.begin"),
        secure=request.is_secure,
        httponly=True,
        samesite="Lax",
    )
    return remember_unit(answer, kept.unit)


def _page(step: Step, kept: Kept, found: Asked) -> str:
    return render_template(
        f"pages/{step.template}",
        step=step,
        number=STEPS.index(step) + 1,
        of=len(STEPS),
        kept=kept,
        problems=found.problems,
        faults={problem.name: problem for problem in found.problems},
        tape=step.measurement and tape_drawing(step.measurement.name),
        proposed=proposal(kept),
    )


def _here(step: Step) -> str:
    return url_for("ask.question", key=step.key, then=_then())


def _then() -> str | None:
    """Return where somebody came from who only changes an answer."""
    return "check" if request.args.get("then") == "check" else None


def _next(step: Step) -> str:
    following = after(step)
    if following is None or _then():
        return url_for("ask.check")
    return url_for("ask.question", key=following.key)


def _previous(step: Step) -> str:
    if _then():
        return url_for("ask.check")
    earlier = before(step)
    return url_for("ask.question", key=earlier.key) if earlier else url_for("pages.start")
