"""How the form of a sock is filled in: as sent, from a suggestion, or from what was reported."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from models.domain.quantities import (
    DECREASES_PER_ROUND,
    FIT_SCORE,
    FIT_SCORES,
    USUAL_DECREASES_PER_ROUND,
    YARN_WEIGHT,
)
from models.domain.reports import SYMPTOMS
from service.pages.kept import LENGTH_UNITS, USUAL_WIDTHS, WIDTHS, Kept, Typing
from service.pages.steps import Step
from service.pages.telling import (
    CHOICES,
    FOLLOWED,
    FOOT,
    PARTS,
    ROUNDS,
    SOCK,
    TEXTS,
    Telling,
    named,
)


def from_form(form: Mapping[str, str]) -> Telling:
    """Return what a form says; a button `means` puts one reading in the place of its field."""
    unit = form["unit"] if form.get("unit") in LENGTH_UNITS else LENGTH_UNITS[0]
    width = form["width"] if form.get("width") in WIDTHS else USUAL_WIDTHS[unit]
    meant, _, text = form.get("means", "").partition("=")
    given = {**form, meant: text}
    entries = {
        one.name: Typing(given.get(one.name, ""), unit if part is FOOT else "")
        for part in PARTS
        for one in part.fields
    }
    said = {name: form[name] for name in (*TEXTS, *CHOICES, FOLLOWED) if name in form}
    return Telling(Kept(entries, unit, width), said)


def blank(unit: str) -> Telling:
    """Return the form of a sock of which nothing is known."""
    usual = {DECREASES_PER_ROUND.name: Typing(str(USUAL_DECREASES_PER_ROUND))}
    return Telling(Kept(usual, unit, USUAL_WIDTHS[unit]))


def from_suggestion(told: Mapping[str, Any], unit: str) -> Telling:
    """Return the form of a sock that followed a suggestion."""
    schedule = told["schedule"]
    known = {**schedule, **schedule["foot"], YARN_WEIGHT.name: told[YARN_WEIGHT.name]}
    return Telling(_filled(known, (ROUNDS, FOOT, SOCK), unit), {FOLLOWED: told["id"]})


def from_report(report: Mapping[str, Any], foot: Mapping[str, Any], unit: str) -> Telling:
    """Return the form of a sock as it was reported."""
    said = {
        name: str(report[name])
        for name in (*TEXTS, *CHOICES, FOLLOWED)
        if report.get(name) is not None and name != "reporter"
    }
    return Telling(_filled({**foot, **report}, PARTS, unit), said)


def like(report: Mapping[str, Any], foot: Mapping[str, Any], unit: str) -> Telling:
    """Return the form of another sock on the same foot, knitted like one that was reported."""
    return Telling(_filled({**foot, **report}, (ROUNDS, FOOT, SOCK), unit))


def _filled(known: Mapping[str, Any], parts: Iterable[Step], unit: str) -> Kept:
    """Return numbers as typed: lengths in cm, whatever their reader measures in."""
    entries = {}
    for part in parts:
        for one in part.fields:
            value = known.get(one.name)
            if value is not None and part is FOOT:
                entries[one.name] = Typing(f"{value / 10:.10g}", "cm")
            elif value is not None:
                entries[one.name] = Typing(f"{value:.10g}")
    return Kept(entries, unit, "10cm")


def differences(stored: Telling, typed: Telling) -> list[tuple[str, str, str]]:
    """Return what two tellings of a sock say differently: field, in the first, in the second."""
    before, after = stored.numbers, typed.numbers
    counted = (one.name for part in PARTS for one in part.fields)
    names = [
        *(name for name in counted if before.get(name) != after.get(name)),
        *(name for name in (*CHOICES, *TEXTS) if _text(stored, name) != _text(typed, name)),
    ]
    return [(named(name), _text(stored, name), _text(typed, name)) for name in names]


def _text(telling: Telling, name: str) -> str:
    if name in telling.kept.entries:
        return telling.kept.entries[name].whole.strip()
    said = telling.said.get(name, "").strip()
    if name == FIT_SCORE.name:
        return FIT_SCORES.get(int(said), said) if said.lstrip("-").isdecimal() else said
    if name in {symptom.name for symptom in SYMPTOMS}:
        return "yes" if said == "1" else "no"
    return said
