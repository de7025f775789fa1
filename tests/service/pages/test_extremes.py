"""Whatever is typed, there is a page."""

from __future__ import annotations

import re
from typing import Any

from hypothesis import event, given, settings
from hypothesis import strategies as st

from models.domain.foot import MEASUREMENTS
from models.domain.quantities import GAUGE, YARN_WEIGHT, Quantity
from service.pages.kept import COOKIE, KEPT_SECONDS, Kept
from service.pages.steps import STEPS, STITCHES


def within(quantity: Quantity) -> st.SearchStrategy[str]:
    """Return texts of what a quantity may be, its limits often among them."""
    low, high = quantity.low, quantity.high
    ends = st.sampled_from([f"{low:g}", f"{high:g}"])
    whole = st.integers(int(low), int(high)).map(str)
    return ends | whole if quantity.integer else ends | st.floats(low, high).map("{:.1f}".format)


ASKED = st.fixed_dictionaries(
    {m.name: within(m).map("{} mm".format) for m in MEASUREMENTS if m.required}
    | {quantity.name: within(quantity) for quantity in (*GAUGE, YARN_WEIGHT)},
    optional={m.name: within(m).map("{} mm".format) for m in MEASUREMENTS if not m.required}
    | {quantity.name: within(quantity) for quantity in STITCHES},
)
NAMES = [quantity.name for step in STEPS for quantity in step.fields]
ANYTHING = st.dictionaries(st.sampled_from(NAMES), st.text(max_size=45), max_size=8)


def seen(world: Any, entries: dict[str, str], address: str) -> Any:
    """Return a page as somebody gets it whose browser keeps some entries."""
    browser, kept = world.app.test_client(), Kept()
    for name, text in entries.items():
        kept = kept.having(name, text, "cm" if name.endswith("_mm") else "")
    browser.set_cookie(COOKIE, kept.dump(), path="/ask", max_age=KEPT_SECONDS)
    return browser.get(address)


@settings(deadline=None, max_examples=60)
@given(ASKED)
def test_every_foot_gauge_and_stitches_within_limits_get_an_answer_or_a_reason(
    lasting, entries: dict[str, str]
) -> None:
    page = seen(lasting, entries, "/ask/answer")
    if page.status_code == 302:
        page = seen(lasting, entries, page.location)
        assert 'id="problems"' in page.text
    else:
        assert page.status_code == 200
        event("answered")
        assert re.search(r"Work <strong>\d+</strong>", page.text)
        assert "nan" not in page.text
        assert "inf" not in re.sub("infants|info", "", page.text)


@settings(deadline=None, max_examples=60)
@given(ANYTHING, st.sampled_from(["/ask/check", *(f"/ask/{step.key}" for step in STEPS)]))
def test_whatever_was_typed_the_pages_can_be_shown(
    lasting, entries: dict[str, str], address: str
) -> None:
    assert seen(lasting, entries, address).status_code in (200, 302)


@settings(deadline=None, max_examples=60)
@given(ANYTHING, st.sampled_from([step.key for step in STEPS]), st.text(max_size=5))
def test_whatever_is_sent_is_taken_or_asked_back(
    lasting, form: dict[str, str], key: str, go: str
) -> None:
    browser = lasting.app.test_client()
    assert browser.post(f"/ask/{key}", data={**form, "go": go}).status_code in (302, 422)
