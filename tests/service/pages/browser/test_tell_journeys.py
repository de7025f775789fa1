"""Asking a group and telling how the sock fits, as a knitter does."""

from __future__ import annotations

import re
import time

import pytest
from playwright.sync_api import Page, expect

DEVICES = {
    "phone": {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True},
    "desktop": {"viewport": {"width": 1280, "height": 900}},
    "without script": {"viewport": {"width": 360, "height": 740}, "java_script_enabled": False},
}
TWO_MINUTES = 120


@pytest.mark.parametrize("device", DEVICES)
def test_from_a_suggestion_to_the_sock_that_followed_it(opening, group, device: str) -> None:
    page: Page = opening("/groups/GROUP/tell", logged_in=True, **DEVICES[device])
    begun = time.monotonic()
    page.get_by_role("link", name=re.compile("slow-decrease rounds")).last.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("How does it fit?")
    page.get_by_role("button", name="Record this sock").last.click()
    expect(page.locator("#problems")).to_contain_text("Choose how deep the heel is.")
    page.get_by_role("radio", name="A little shallow").check()
    page.get_by_role("checkbox", name="It slides down into the shoe").check()
    page.get_by_role("textbox", name="Slow-decrease rounds").fill("3")
    page.get_by_role("textbox", name="Fast decrease rounds").fill("5")
    page.get_by_text("Wear, day and notes").click()
    page.get_by_role("textbox", name="Times washed").fill("2")
    page.get_by_role("button", name="Record this sock").last.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("A little shallow")
    expect(page.get_by_role("status")).to_contain_text("the sock is recorded")
    assert time.monotonic() - begun < TWO_MINUTES
    page.get_by_role("link", name="Correct it").click()
    page.get_by_role("radio", name="Just right").check()
    page.get_by_role("button", name="Store the correction").last.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Just right")
    page.get_by_role("link", name="My socks").click()
    expect(page.get_by_role("link", name="Just right, with 3 slow-decrease").first).to_be_visible()


@pytest.mark.parametrize("device", DEVICES)
def test_a_sock_from_scratch_with_a_length_that_is_asked_back(opening, device: str) -> None:
    page: Page = opening("/groups/GROUP/tell", logged_in=True, **DEVICES[device])
    page.get_by_role("link", name="A sock without a suggestion").click()
    page.get_by_role("radio", name="Far too deep").check()
    for name, text in {
        "Plain rounds": "3",
        "Slow-decrease rounds": "6",
        "Medium decrease rounds": "4",
        "Fast decrease rounds": "2",
        "Foot length": "245",
        "Foot circumference": "23,5",
        "Stitches": "30",
        "Rounds": "42",
        "Heel stitches": "64",
    }.items():
        page.get_by_role("textbox", name=name, exact=True).fill(text)
    page.get_by_label("Yarn weight").select_option("1")
    page.get_by_role("button", name="Record this sock").last.click()
    expect(page.locator("#problems")).to_contain_text("Did you mean 245 mm (24.5 cm)?")
    expect(page.get_by_role("radio", name="Far too deep")).to_be_checked()
    expect(page.get_by_role("textbox", name="Foot circumference")).to_have_value("23,5")
    page.get_by_role("button", name="245 mm (24.5 cm)").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Far too deep")
    expect(page.get_by_text("24.5 cm")).to_be_visible()


def test_by_keyboard_alone(opening) -> None:
    page: Page = opening(
        "/groups/GROUP/tell/sock?suggestion=SUGGESTION", logged_in=True, **DEVICES["desktop"]
    )
    press = page.keyboard.press
    _tab_to(page, "Far too shallow")
    for _ in range(2):
        press("ArrowDown")
    expect(page.get_by_role("radio", name="Just right")).to_be_checked()
    _tab_to(page, "It bags behind the heel")
    press("Space")
    _tab_to(page, "The foot, the yarn and the stitches")
    press("Enter")
    _tab_to(page, "Heel diagonal")
    page.keyboard.type("31,5")
    _tab_to(page, "Wear, day and notes")
    press("Enter")
    _tab_to(page, "Times worn")
    page.keyboard.type("4")
    _tab_to(page, "Record this sock")
    press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Just right")
    expect(page.get_by_text("It bags behind the heel.")).to_be_visible()


def test_a_button_that_is_pressed_twice_records_one_sock(opening) -> None:
    page: Page = opening(
        "/groups/GROUP/tell/sock?suggestion=SUGGESTION", logged_in=True, **DEVICES["desktop"]
    )
    page.get_by_role("radio", name="A little deep").check()
    page.get_by_role("button", name="Record this sock").last.dblclick()
    expect(page.get_by_role("heading", level=1)).to_have_text("A little deep")
    page.get_by_role("link", name="My socks").click()
    expect(page.get_by_role("link", name="A little deep")).to_have_count(1)
    page.get_by_role("link", name="Tell", exact=True).click()
    page.get_by_role("link", name=re.compile("slow-decrease rounds")).last.click()
    expect(page.get_by_role("status")).to_contain_text("is recorded already")


def test_a_group_is_asked_from_what_was_typed(opening, entries) -> None:
    page: Page = opening("/ask/check", entries(), logged_in=True, **DEVICES["phone"])
    page.get_by_role("radio", name="The reports of Invented kingfisher").check()
    page.get_by_role("button", name="Show the answer").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile("^Work "))
    expect(page).to_have_url(re.compile("/groups/[0-9a-f]{32}/suggestions/[0-9a-f]{32}$"))
    page.get_by_role("link", name="Knitted? Tell how it fits").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("How does it fit?")
    expect(page.get_by_text("Foot 25.2 cm long and 23.6 cm around")).to_be_visible()


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


def _tab_to(page: Page, name: str, most: int = 40) -> None:
    """Press Tab until something of that name has the focus, which must be seen on the way."""
    for _ in range(most):
        page.keyboard.press("Tab")
        focused = page.evaluate(FOCUSED)
        assert focused["visible"], focused
        if focused["name"].startswith(name):
            return
    raise AssertionError(f"{name} cannot be reached")
