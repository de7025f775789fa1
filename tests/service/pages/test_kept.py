"""What a browser keeps of what was typed."""

from __future__ import annotations

import base64
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.pages.filling import filled, switched
from service.pages.kept import Kept, Typing, load
from service.pages.steps import STEPS, step_of

SENT = st.text(st.characters(exclude_categories=["Cs"]), max_size=41)


@given(st.dictionaries(st.text("abc_", max_size=9), st.tuples(SENT, st.sampled_from(["", "in"]))))
def test_a_cookie_gives_back_what_was_put_in(entries: dict[str, tuple[str, str]]) -> None:
    kept = Kept({name: Typing(*pair) for name, pair in entries.items()}, "in", "4in")
    assert len(entries) > 32 or load(kept.dump()) == kept


@given(st.text())
def test_a_strange_cookie_counts_as_none(text: str) -> None:
    assert load(text) == Kept()


@pytest.mark.parametrize(
    "body",
    [
        [],
        {"unit": "mile", "width": "10cm", "entries": {}},
        {"unit": "cm", "width": [], "entries": {}},
        {"unit": "cm", "width": "10cm", "entries": {"a": ["24", "mile"]}},
        {"unit": "cm", "width": "10cm", "entries": {"a": [24, "cm"]}},
        {"unit": "cm", "width": "10cm", "entries": {"a": "24"}},
        {"unit": "cm", "width": "10cm", "entries": {"a": ["\ud800", "cm"]}},
        {"unit": "cm", "width": "10cm", "entries": {str(n): ["", ""] for n in range(99)}},
    ],
)
def test_nothing_is_believed_that_this_service_would_not_write(body: Any) -> None:
    assert load(base64.urlsafe_b64encode(json.dumps(body).encode()).decode()) == Kept()


def test_seven_questions_fit_a_cookie() -> None:
    kept = Kept()
    for step in STEPS:
        for quantity in step.fields:
            kept = kept.having(quantity.name, "ä" * 99, "in")
    assert len(kept.dump()) < 4000  # RFC 6265, section 6.1: at least 4096 bytes per cookie


FOOT = step_of("foot_length_mm")


@pytest.mark.parametrize(
    ("text", "unit", "width"),
    [
        ("24,5", "cm", "10cm"),
        (" 24.5 ", "cm", "10cm"),
        ("24.5 cm", "cm", "10cm"),
        ("9½", "in", "4in"),
    ],
)
def test_changing_the_unit_to_and_fro_loses_nothing(text: str, unit: str, width: str) -> None:
    kept = filled(Kept(unit=unit, width=width), FOOT, {"foot_length_mm": text})
    there = switched(kept, FOOT, "in" if unit == "cm" else "cm")
    shown = there.text("foot_length_mm")
    again = filled(there, FOOT, {"foot_length_mm": shown})
    assert switched(again, FOOT, unit) == kept


def test_in_the_other_unit_an_entry_names_its_own() -> None:
    kept = switched(filled(Kept(), FOOT, {"foot_length_mm": "24,5"}), FOOT, "in")
    assert kept.text("foot_length_mm") == "24,5 cm"


def test_a_number_that_makes_no_sense_was_meant_in_the_new_unit() -> None:
    kept = switched(filled(Kept(), FOOT, {"foot_length_mm": "9.5"}), FOOT, "in")
    assert kept.text("foot_length_mm") == "9.5"
    assert kept.entries["foot_length_mm"] == Typing("9.5", "in")


def test_counts_do_not_take_a_unit() -> None:
    kept = filled(Kept(), step_of("stitches_per_10cm"), {"stitches_per_10cm": "30", "width": "4in"})
    assert kept.width == "4in"
    assert switched(kept, FOOT, "in").text("stitches_per_10cm") == "30"


def test_who_measures_in_inches_is_asked_for_a_gauge_over_four_of_them() -> None:
    assert switched(Kept(), FOOT, "in").width == "4in"
    counted = filled(Kept(), step_of("stitches_per_10cm"), {"stitches_per_10cm": "30"})
    assert switched(counted, FOOT, "in").width == "10cm"
