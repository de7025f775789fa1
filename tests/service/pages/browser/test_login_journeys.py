"""Logging in, as a person at a phone, at a desk, and by keyboard alone does."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

DEVICES = {
    "phone": {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True},
    "desktop": {"viewport": {"width": 1280, "height": 900}},
    "without script": {"viewport": {"width": 360, "height": 740}, "java_script_enabled": False},
}


@pytest.mark.parametrize("device", DEVICES)
def test_a_page_of_a_group_is_reached_by_logging_in_and_left_by_logging_out(
    opening, group, device: str
) -> None:
    page: Page = opening(f"/groups/{group.id}", **DEVICES[device])
    expect(page.get_by_role("status")).to_contain_text("for people who are logged in")
    page.get_by_label("Username").fill("marsh.tit")
    page.get_by_label("Password").fill("not this one")
    page.get_by_role("button", name="Log in").click()
    expect(page.locator("#problems")).to_contain_text("No such username with that password")
    expect(page.get_by_label("Username")).to_have_value("marsh.tit")
    page.get_by_label("Password").fill("four invented quiet words")
    page.get_by_role("button", name="Log in").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Invented kingfisher")
    page.get_by_role("link", name="My groups").click()
    page.get_by_role("button", name="Log out").click()
    expect(page.get_by_role("link", name="Log in")).to_be_visible()
    page.goto(f"/groups/{group.id}")
    expect(page.get_by_role("heading", level=1)).to_have_text("Log in")


def test_by_keyboard_alone(opening, group) -> None:
    page: Page = opening("/login", viewport={"width": 1280, "height": 900})
    press, write = page.keyboard.press, page.keyboard.type
    press("Tab")
    expect(page.get_by_role("link", name="Skip to the content")).to_be_focused()
    press("Enter")
    press("Tab")
    expect(page.get_by_label("Username")).to_be_focused()
    write("marsh.tit")
    press("Tab")
    write("four invented quiet words")
    press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("My groups")
