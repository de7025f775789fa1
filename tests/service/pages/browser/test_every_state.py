"""What holds on every page, in every state: for fingers, for large text, for screen readers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from service.pages.kept import Kept
from service.pages.steps import STEPS

Act = Callable[[Page], None]

NARROW = {"width": 320, "height": 640}
LEAST_TARGET = 44
"""CSS pixels (WCAG 2.2, success criterion 2.5.5, target size, enhanced)."""

VIOLATIONS = {"resultTypes": ["violations"]}
"""What axe-core should tell in full; the rest it may cut short."""

SMALL_TARGETS = f"""() => [...document.querySelectorAll(
        "a, button, input, select, textarea, summary")]
    .filter((one) => !one.matches(".unseen, .skip, [type=hidden]"))
    .map((one) => one.matches("[type=radio], [type=checkbox]") ? one.closest("label") : one)
    .map((one) => [one.innerText || one.name, one.getBoundingClientRect()])
    .filter(([_, box]) => Math.min(box.width, box.height) < {LEAST_TARGET - 0.5})
    .map(([name, box]) => `${{name}}: ${{box.width}} x ${{box.height}}`)"""
OVERFLOWING = """() => {
    const width = document.documentElement.clientWidth;
    return [...document.querySelectorAll("body *")]
        .filter((one) => !one.closest(".unseen, svg, .wide > *"))
        .filter((one) => one.getBoundingClientRect().right > width + 0.5)
        .map((one) => `${one.tagName}: ${one.textContent.trim().slice(0, 40)}`)
        .concat(document.documentElement.scrollWidth > width ? ["the page"] : []);
}"""


def sent(name: str, text: str) -> Act:
    """Return the sending of a form with one field changed."""

    def act(page: Page) -> None:
        page.locator(f"[name={name}]").fill(text)
        page.get_by_role("button", name="Go on").click()
        page.locator("#problems").wait_for()

    return act


def nothing_chosen(page: Page) -> None:
    """Send a form in which nothing was chosen."""
    page.get_by_role("button", name="Go on").click()
    page.locator("#problems").wait_for()


def pressed(button: str) -> Act:
    """Return the sending of a form as it is, which is refused."""

    def act(page: Page) -> None:
        page.get_by_role("button", name=button, exact=True).click()
        page.locator("#problems").wait_for()

    return act


def made(button: str) -> Act:
    """Return the sending of a form that shows what it made."""

    def act(page: Page) -> None:
        page.get_by_role("button", name=button, exact=True).click()
        page.locator(".code").wait_for()

    return act


def unfolded(page: Page) -> None:
    """Open everything that is folded."""
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")


def told_wrongly(page: Page) -> None:
    """Send a sock with a length that may mean several things."""
    unfolded(page)
    page.get_by_label("Foot length").fill("245")
    pressed("Record this sock")(page)


def from_an_older_form(page: Page) -> None:
    """Send a correction from a form that was opened before the last one."""
    unfolded(page)
    page.locator("[name=version]").evaluate("(one) => one.value = '0'")
    page.get_by_label("Notes").fill("Other invented notes.")
    page.get_by_role("button", name="Store the correction").click()
    page.locator("#meanwhile").wait_for()


def stay(_page: Page) -> None:
    """Do nothing."""


ASKED: dict[str, Any] = {}
STATES: dict[str, tuple[str, dict[str, str] | None, Act]] = {
    "start": ("/", None, stay),
    "example": ("/example", None, stay),
    "lost": ("/ask/answer", None, stay),
    **{step.key: (f"/ask/{step.key}", ASKED, stay) for step in STEPS},
    "length asked back": ("/ask/foot-length", None, sent("foot_length_mm", "9,5")),
    "gauge refused": ("/ask/gauge", None, sent("rounds_per_10cm", "many")),
    "no yarn chosen": ("/ask/yarn", None, nothing_chosen),
    "stitches refused": ("/ask/stitches", ASKED, sent("closing_stitches", "15")),
    "check": ("/ask/check", ASKED, stay),
    "check with doubts": ("/ask/check", {"rounds_per_10cm": "25"}, stay),
    "check with problems": ("/ask/check", {"foot_length_mm": "", "yarn_weight": "9"}, stay),
    "answer": ("/ask/answer", ASKED, stay),
    "answer with doubts": (
        "/ask/answer",
        {"heel_diagonal_mm": "", "heel_stitches": "40", "rounds_per_10cm": "25"},
        stay,
    ),
    "nothing here": ("/ask/nowhere", None, stay),
    "log in": ("/login?next=/groups", None, stay),
    "log in refused": ("/login", None, pressed("Log in")),
    "reset": ("/reset", None, stay),
    "reset refused": ("/reset", None, pressed("Set the password")),
    "join": ("/join", None, stay),
    "join refused": ("/join", None, pressed("Join")),
    "found a group": ("/groups/new", None, stay),
    "found a group refused": ("/groups/new", None, pressed("Found the group")),
}
OF_A_GROUP = "/groups/LEARNED"
OF_A_DESIGN = f"{OF_A_GROUP}/designs/DESIGN"
LEARNED: dict[str, tuple[str, dict[str, str] | None, Act]] = {
    "learned": (f"{OF_A_GROUP}/learn", None, unfolded),
    "nothing learned": ("/groups/GROUP/learn", None, stay),
    "calibrations": (f"{OF_A_GROUP}/calibrations", None, stay),
    "nothing to go back to": ("/groups/GROUP/calibrations", None, stay),
    "card": (f"{OF_A_GROUP}/calibrations/CARD", None, unfolded),
    "card of an earlier one": (f"{OF_A_GROUP}/calibrations/EARLIER", None, unfolded),
    "work that goes on": ("/groups/GROUP/work/WORK", None, stay),
    "designs": (f"{OF_A_GROUP}/designs", None, stay),
    "designs refused": (f"{OF_A_GROUP}/designs", None, pressed("Make the design")),
    "design": (OF_A_DESIGN, None, stay),
    "size table refused": (OF_A_DESIGN, None, pressed("Take in this table")),
    "size": (f"{OF_A_DESIGN}/sizes/SIZE", None, stay),
    "size refused": (f"{OF_A_DESIGN}/sizes/new", None, pressed("Keep this size")),
    "test knits": (f"{OF_A_DESIGN}/plan", None, stay),
    "test knits refused": (f"{OF_A_DESIGN}/plan?socks=none", None, stay),
    "pattern": (f"{OF_A_DESIGN}/pattern", None, stay),
    "members": (f"{OF_A_GROUP}/members", None, unfolded),
    "invitations": (f"{OF_A_GROUP}/members/invitations", None, stay),
    "invitation made": (f"{OF_A_GROUP}/members/invitations", None, made("Make the code")),
    "held reports": (f"{OF_A_GROUP}/reviews", None, stay),
    "none held": ("/groups/GROUP/reviews", None, stay),
}
LOGGED_IN: dict[str, tuple[str, dict[str, str] | None, Act]] = {
    "own groups": ("/groups", None, stay),
    "group": ("/groups/GROUP", None, stay),
    "account": ("/account", None, stay),
    "own data": ("/account/data", None, stay),
    "erasing refused": ("/account/data", None, pressed("Erase it")),
    "account refused": ("/account", None, pressed("Change the password")),
    "join as who one is": ("/join", None, stay),
    **LEARNED,
    "check with a group to ask": ("/ask/check", ASKED, stay),
    "suggestions": ("/groups/GROUP/suggestions", None, stay),
    "suggestion": ("/groups/GROUP/suggestions/SUGGESTION", None, stay),
    "which sock": ("/groups/GROUP/tell", None, stay),
    "sock that followed": ("/groups/GROUP/tell/sock?suggestion=SUGGESTION", None, unfolded),
    "sock from scratch": ("/groups/GROUP/tell/sock", None, unfolded),
    "sock refused": ("/groups/GROUP/tell/sock", None, pressed("Record this sock")),
    "length of a sock asked back": (
        "/groups/GROUP/tell/sock?suggestion=SUGGESTION",
        None,
        told_wrongly,
    ),
    "own socks": ("/groups/GROUP/socks", None, stay),
    "socks of others": ("/groups/GROUP/socks?of=others", None, stay),
    "sock": ("/groups/GROUP/socks/REPORT", None, unfolded),
    "sock changed": ("/groups/GROUP/socks/REPORT/change", None, unfolded),
    "sock changed meanwhile": ("/groups/GROUP/socks/REPORT/change", None, from_an_older_form),
    "no such sock": ("/groups/GROUP/socks/00000000000000000000000000000000", None, stay),
}


@pytest.fixture(params=[*STATES, *LOGGED_IN])
def state(request: pytest.FixtureRequest, opening, entries) -> Page:
    """Return a page of 320 px in one of the states."""
    path, answers, act = (STATES | LOGGED_IN)[request.param]
    kept: Kept | None = None if answers is None else entries(**answers)
    page: Page = opening(path, kept, viewport=NARROW, logged_in=request.param in LOGGED_IN)
    act(page)
    return page


def test_every_state_serves_fingers_large_text_and_screen_readers(state: Page) -> None:
    assert state.evaluate(OVERFLOWING) == []
    assert state.evaluate(SMALL_TARGETS) == []
    found = Axe().run(state, options=VIOLATIONS)
    assert [f"{one['id']}: {one['nodes'][0]['html']}" for one in found.response["violations"]] == []
    state.evaluate("document.documentElement.style.fontSize = '200%'")
    assert state.evaluate(OVERFLOWING) == []


SPOILED = """() => {
    const link = document.querySelector(".wordmark");
    link.style.minHeight = "0";
    link.style.minWidth = "400px";
    link.style.color = "#bbb";
}"""


def test_the_checks_find_what_is_spoiled(opening) -> None:
    page = opening("/", viewport=NARROW)
    page.evaluate(SPOILED)
    assert any(name.startswith("heeldepth: 400 x") for name in page.evaluate(SMALL_TARGETS))
    assert "A: heeldepth" in page.evaluate(OVERFLOWING)
    found = Axe().run(page, options=VIOLATIONS)
    assert [one["id"] for one in found.response["violations"]] == ["color-contrast"]


def test_in_the_dark_contrasts_hold_too(opening, entries) -> None:
    paths = ("/", "/ask/foot-length", "/ask/answer", "/join", "/groups/GROUP/tell/sock")
    for path in (*paths, f"{OF_A_GROUP}/learn", OF_A_DESIGN, f"{OF_A_GROUP}/reviews"):
        page = opening(
            path, entries(), viewport=NARROW, color_scheme="dark", logged_in="/groups" in path
        )
        found = Axe().run(page, options={"runOnly": ["color-contrast"]})
        assert found.response["violations"] == []
        assert found.response["passes"]
