"""Reading what a group knows, and setting a foot there, as people do."""

from __future__ import annotations

import io
import re

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from seed_demo.design import LABELS

PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
DESKTOP = {"viewport": {"width": 1280, "height": 900}}
SAID = re.compile(r"\d+ slow-decrease rounds?:\s+about \d+ in 20 such heels are just right")


def tab_to(page: Page, name: str, most: int = 60) -> None:
    """Press Tab until something of that name has the focus, which must be seen on the way."""
    for _ in range(most):
        page.keyboard.press("Tab")
        focused = page.locator(":focus")
        if focused.count() == 0:  # between the last thing of a page and its first
            continue
        seen = focused.evaluate(
            "one => { const at = one.matches('[type=checkbox]') ? one.closest('label') : one;"
            " const style = getComputedStyle(at);"
            " return style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2; }"
        )
        assert seen, focused.evaluate("one => one.outerHTML")
        told = focused.evaluate(
            "one => one.getAttribute('aria-label')"
            " || (one.labels && one.labels[0] ? one.labels[0].innerText : one.innerText)"
        )
        if told.startswith(name):
            return
    raise AssertionError(f"{name} cannot be reached")


@pytest.mark.parametrize("device", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_the_chances_follow_the_slider(opening, device: dict) -> None:
    page: Page = opening("/groups/LEARNED", logged_in=True, **device)
    page.get_by_role("link", name="Learn").click()
    expect(page.get_by_role("img", name="How heels were scored, by depth")).to_be_visible()
    said = page.locator("#chances-said")
    expect(said).to_have_text(SAID)
    before = said.inner_text()
    slider = page.get_by_role("slider", name="Heel diagonal")
    slider.fill("34")
    expect(page.get_by_role("textbox", name="Heel diagonal")).to_have_value("34")
    expect(said).not_to_have_text(before)
    expect(said).to_have_text(SAID)
    page.reload()
    expect(page.get_by_role("textbox", name="Heel diagonal")).to_have_value("34")
    expect(page.get_by_role("slider", name="Heel diagonal")).to_have_value("34")


def test_a_wrong_entry_is_named_at_once_and_goes_when_it_is_right(opening) -> None:
    page: Page = opening("/groups/LEARNED/learn", logged_in=True, **DESKTOP)
    field = page.get_by_role("textbox", name="Foot length")
    field.fill("long")
    field.press("Tab")
    expect(page.locator("#foot_length_mm-fault")).to_be_visible()
    expect(page.locator("#chances-said")).to_contain_text("No chances yet")
    field.fill("25")
    field.press("Tab")
    expect(page.locator("#foot_length_mm-fault")).to_have_count(0)
    expect(page.locator("#chances-said")).to_have_text(SAID)


def test_what_was_opened_stays_open_and_keeps_the_focus_when_the_chances_change(opening) -> None:
    page: Page = opening("/groups/LEARNED/learn", logged_in=True, **DESKTOP)
    told = page.locator("#chances-told summary")
    told.focus()
    page.keyboard.press("Enter")
    table = page.get_by_role("table", name="Chances by slow-decrease rounds")
    expect(table).to_be_visible()
    before, shown = page.locator("#chances-said").inner_text(), table.inner_text()
    slider = page.get_by_role("slider", name="Heel diagonal")
    slider.evaluate("one => { one.value = 34; one.dispatchEvent(new Event('input')); }")
    expect(page.locator("#chances-said")).not_to_have_text(before)
    expect(table).to_be_visible()
    expect(told).to_be_focused()
    assert table.inner_text() != shown


def test_without_script_the_button_shows_the_chances(opening) -> None:
    page: Page = opening(
        "/groups/LEARNED/learn", logged_in=True, java_script_enabled=False, **PHONE
    )
    before = page.locator("#chances-said").inner_text()
    expect(page.get_by_role("slider")).to_have_count(0)
    page.get_by_role("textbox", name="Heel diagonal").fill("34")
    page.get_by_role("button", name="Show its chances").click()
    expect(page.locator("#chances-said")).not_to_have_text(before)
    expect(page.get_by_role("textbox", name="Heel diagonal")).to_have_value("34")
    page.get_by_text("The chances as a table").click()
    expect(page.get_by_role("table", name="Chances by slow-decrease rounds")).to_be_visible()


def test_by_keyboard_alone(opening) -> None:
    page: Page = opening("/groups/LEARNED", logged_in=True, **DESKTOP)
    press = page.keyboard.press
    tab_to(page, "Learn")
    press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("What the group knows")
    tab_to(page, "The figures as a table")
    press("Enter")
    expect(page.get_by_role("table", name="Scores by depth", exact=True)).to_be_visible()
    tab_to(page, "Table: Scores by depth")
    tab_to(page, "Heel diagonal, cm, slider")
    press("ArrowRight")
    expect(page.get_by_role("textbox", name="Heel diagonal")).to_have_value("31.3")
    tab_to(page, "All calibrations")
    press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Calibrations")


def test_a_designer_adopts_and_undoes_by_keyboard(opening) -> None:
    page: Page = opening("/groups/LEARNED/designs/DESIGN", logged_in=True, **DESKTOP)
    tab_to(page, "Adopt the calibrated rounds")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("have their calibrated rounds now")
    tab_to(page, "Undo this adoption")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("have their earlier rounds again")


@pytest.mark.parametrize("form", ["A4", "Letter"])
def test_the_pattern_s_table_fits_two_pages_with_every_row_whole(opening, form: str) -> None:
    page: Page = opening("/groups/LEARNED/designs/DESIGN/pattern", logged_in=True)
    lines = page.get_by_role("row").all_inner_texts()[1:]
    printed = PdfReader(io.BytesIO(page.pdf(format=form)))
    leaves = [re.sub(r"\s+", " ", leaf.extract_text()) for leaf in printed.pages]
    assert len(leaves) <= 2
    for line in lines:
        row = re.sub(r"\s+", " ", line).strip()
        assert sum(row in leaf for leaf in leaves) == 1, row
    for left_out in ("For programs", "Overview", "As CSV", "Back to"):
        assert left_out not in " ".join(leaves)
    assert len(LABELS) == len(lines[0].split("\t")) - 1


@pytest.mark.parametrize("device", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_calibrating_leads_by_the_page_of_its_progress_to_the_card(opening, device: dict) -> None:
    page: Page = opening("/groups/LEARNED/calibrations", logged_in=True, **device)
    page.get_by_role("button", name="Calibrate now").click()
    page.wait_for_url("**/calibrations/*?done=calibrated")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Calibration")


def test_without_script_one_looks_again(opening) -> None:
    page: Page = opening("/groups/GROUP/work/WORK", logged_in=True, java_script_enabled=False)
    expect(page.get_by_role("status")).to_have_text("Step 2 of 3.")
    page.get_by_role("link", name="Look again").click()
    expect(page.get_by_role("status")).to_have_text("Step 2 of 3.")
