"""Asking for a foot, as a knitter does."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
DESKTOP = {"viewport": {"width": 1280, "height": 900}}
DEVICES = {
    "phone": PHONE,
    "desktop": DESKTOP,
    "phone without script": {**PHONE, "java_script_enabled": False},
}
SUGGESTED = re.compile(r"Work 4 slow-decrease rounds")


def go_on(page: Page) -> None:
    page.get_by_role("button", name="Go on").click()


@pytest.mark.parametrize("device", DEVICES)
def test_from_the_start_to_every_round(opening, device: str) -> None:
    page: Page = opening("/", **DEVICES[device])
    page.get_by_role("link", name="Ask for a foot").click()
    page.get_by_role("textbox", name="Foot length").fill("245")
    go_on(page)
    expect(page).to_have_title(re.compile("^Error: "))
    expect(page.locator("#problems")).to_be_focused()
    page.get_by_role("button", name="245 mm (24.5 cm)").click()
    page.get_by_role("textbox", name="Foot circumference").fill("9 1/4 in")
    go_on(page)
    page.get_by_role("textbox", name="Heel diagonal").fill(" 31,5 ")
    page.get_by_role("button", name="Use inches").click()
    expect(page.get_by_role("textbox", name="Heel diagonal")).to_have_value("31,5 cm")
    go_on(page)
    page.get_by_role("button", name="Leave it out").click()
    page.get_by_label("10 cm").check()
    page.get_by_role("textbox", name="Stitches").fill("30")
    page.get_by_role("textbox", name="Rounds").fill("42")
    go_on(page)
    page.get_by_label("1 super fine").check()
    page.get_by_role("button", name="Back").click()
    expect(page.get_by_role("textbox", name="Stitches")).to_have_value("30")
    go_on(page)
    expect(page.get_by_label("1 super fine")).to_be_checked()
    go_on(page)
    expect(page.get_by_role("textbox", name="Heel stitches")).to_have_value("64")
    go_on(page)
    expect(page.get_by_role("heading", level=1)).to_have_text("Check what you typed")
    page.get_by_role("link", name="Show the answer").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(SUGGESTED)
    expect(page.get_by_role("img", name="The heel in profile on the foot")).to_be_visible()
    expect(page.get_by_role("checkbox")).to_have_count(31)
    page.get_by_role("checkbox", name=re.compile("^7 decrease 60")).check()


def test_by_keyboard_alone(opening) -> None:
    page: Page = opening("/", **DESKTOP)
    press = page.keyboard.press
    _tab_to(page, "Ask for a foot")
    press("Enter")
    for typed in ("24.5", "23.5", "31.5", ""):
        heading = page.get_by_role("heading", level=1).inner_text()
        _tab_to(page, heading)
        page.keyboard.type(typed)
        press("Enter")
        expect(page.get_by_role("heading", level=1)).not_to_have_text(heading)
    _tab_to(page, "Stitches")
    page.keyboard.type("30")
    _tab_to(page, "Rounds")
    page.keyboard.type("42")
    press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Yarn weight")
    _tab_to(page, "0 lace")
    press("ArrowDown")
    press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Stitches of the heel")
    _tab_to(page, "Closing stitches")
    press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Check what you typed")
    _tab_to(page, "Show the answer")
    press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(SUGGESTED)
    _tab_to(page, "1 knit")
    press("Space")
    expect(page.get_by_role("status")).to_have_text("1 of 31 rounds done.")


FOCUSED = """() => {
    const one = document.activeElement;
    const label = one.closest("label") || (one.labels && one.labels[0]);
    const seen = one.matches("[type=radio], [type=checkbox]") ? one.closest("label") : one;
    const style = getComputedStyle(seen);
    return {
        name: (label || one).innerText.replace(/\\s+/g, " ").trim(),
        visible: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
    };
}"""


def _tab_to(page: Page, name: str, most: int = 30) -> None:
    """Press Tab until something of that name has the focus, which must be seen on the way."""
    for _ in range(most):
        page.keyboard.press("Tab")
        focused: dict[str, Any] = page.evaluate(FOCUSED)
        assert focused["visible"], focused
        if focused["name"].startswith(name):
            return
    raise AssertionError(f"{name} cannot be reached")


def test_ticks_stay_until_they_are_cleared(opening, entries) -> None:
    page: Page = opening("/ask/answer", entries(), **PHONE)
    page.get_by_role("checkbox", name=re.compile("^3 knit")).check()
    page.reload()
    expect(page.get_by_role("checkbox", name=re.compile("^3 knit"))).to_be_checked()
    expect(page.get_by_role("status")).to_have_text("1 of 31 rounds done.")
    page.get_by_role("button", name="Untick all rounds").click()
    page.reload()
    expect(page.get_by_role("checkbox", name=re.compile("^3 knit"))).not_to_be_checked()


def test_the_browser_s_own_way_back_finds_what_was_typed(opening) -> None:
    page: Page = opening("/ask", **PHONE)
    page.get_by_role("textbox", name="Foot length").fill("24,5")
    go_on(page)
    expect(page.get_by_role("heading", level=1)).to_have_text("Foot circumference")
    page.go_back()
    expect(page.get_by_role("textbox", name="Foot length")).to_have_value("24,5")
    page.reload()
    expect(page.get_by_role("textbox", name="Foot length")).to_have_value("24,5")
