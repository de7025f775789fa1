"""How the form of a sock is filled in: as sent, from a suggestion, or from what was reported."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from models.domain.quantities import (
    DECREASES_PER_ROUND,
    FIT_SCORE,
    FIT_SCORES,
    GAUGE,
    USUAL_DECREASES_PER_ROUND,
    YARN_WEIGHT,
)
from models.domain.reports import SYMPTOMS
from models.domain.units import from_mm, to_mm
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

_LEFT_BEHIND = 2e-6
"""What converting and rounding to six decimals leaves of a number that was typed short."""


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
    """Return numbers as typed, in the units in which they come out short."""
    width = _width(known, unit)
    entries = {}
    for part in parts:
        for one in part.fields:
            value = known.get(one.name)
            if value is None:
                continue
            if part is FOOT:
                entries[one.name] = _length(value, unit)
            else:
                entries[one.name] = Typing(_counted(value, width if one in GAUGE else "10cm"))
    return Kept(entries, unit, width)


def _length(value_mm: float, unit: str) -> Typing:
    """Return a length in the unit of its reader where it is short there, otherwise in cm."""
    length = from_mm(value_mm, unit)
    if _is_short(length):
        return Typing(_short(length), unit)
    return Typing(f"{from_mm(value_mm, 'cm'):.10g}", "cm")


def _width(known: Mapping[str, Any], unit: str) -> str:
    """Return over which width both gauges are short: the reader's, the other, or 10 cm."""
    gauges = [known[one.name] for one in GAUGE if known.get(one.name) is not None]
    for width in (USUAL_WIDTHS[unit], *WIDTHS):
        if all(_is_short(_over(value, width)) for value in gauges):
            return width
    return "10cm"


def _counted(value: float, width: str) -> str:
    count = _over(value, width)
    return _short(count) if _is_short(count) else f"{count:.10g}"


def _over(value: float, width: str) -> float:
    """Return a count per 10 cm as a count over a width."""
    count, unit = WIDTHS[width]
    return value * to_mm(count, unit) / 100


def _is_short(number: float) -> bool:
    """Return whether a number was likely typed so: it has no more than three decimals."""
    return abs(number - round(number, 3)) <= _LEFT_BEHIND


def _short(number: float) -> str:
    return f"{round(number, 3):.10g}"


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
