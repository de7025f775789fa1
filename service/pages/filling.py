"""Taking what a form says into what is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from models.domain.foot import Measurement
from models.domain.quantities import GAUGE
from service.pages.kept import USUAL_WIDTHS, WIDTHS, Kept, Typing
from service.pages.reading import proposal, read
from service.pages.steps import STITCHES, Step


def filled(kept: Kept, step: Step, form: Mapping[str, str]) -> Kept:
    """Return what is kept once a form of a step was sent; what it leaves out stays.

    `means` is one of the readings that an entry was asked back with; `skip` leaves it out.
    """
    for quantity in step.fields:
        text = _given(step, quantity.name, form)
        if text is not None:
            unit = kept.unit if isinstance(quantity, Measurement) else ""
            kept = kept.having(quantity.name, text, unit)
    if form.get("width") in WIDTHS:
        kept = replace(kept, width=form["width"])
    return _following_the_proposal(kept) if step.fields == STITCHES else kept


def _given(step: Step, name: str, form: Mapping[str, str]) -> str | None:
    """Return what a form says of a field, or None where it says nothing."""
    if step.measurement is None:
        return form.get(name)
    return "" if form.get("go") == "skip" else form.get("means", form.get(name))


def switched(kept: Kept, step: Step, unit: str) -> Kept:
    """Return what is kept for somebody who measures in `unit` from now on.

    What makes sense in the unit that it was typed in stays that; a number that does not was likely
    meant in the new one. A gauge that was not counted yet is asked for over the usual width.
    """
    entries = dict(kept.entries)
    for problem in read(kept, [step]).problems:
        if problem.name in entries:
            entries[problem.name] = Typing(entries[problem.name].text, unit)
    width = kept.width if GAUGE[0].name in entries else USUAL_WIDTHS[unit]
    return replace(kept, unit=unit, width=width, entries=entries)


def _following_the_proposal(kept: Kept) -> Kept:
    """Keep only stitches that differ from the proposal, so that the others follow the foot."""
    if policy := proposal(kept):
        for quantity in STITCHES:
            if kept.text(quantity.name).strip() == str(getattr(policy, quantity.name)):
                kept = kept.without(quantity.name)
    return kept
