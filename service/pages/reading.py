"""From what was typed to a question that can be answered, or to what is in the way."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from models.actions.suggestions import question_of
from models.domain.errors import Fault, Invalid, shown
from models.domain.foot import MEASUREMENTS, Measurement
from models.domain.gauge import Gauge
from models.domain.plausibility import require_plausible
from models.domain.policy import Policy
from models.domain.proposal import proposed
from models.domain.quantities import GAUGE, Quantity
from models.domain.units import per_10cm
from models.learning.question import Question
from service.pages.kept import WIDTHS, Kept
from service.pages.lengths import Entry, Reading, read_length
from service.pages.steps import STEPS, STITCHES, Step, step_of
from service.pages.typed import typed
from service.pages.words import label, spoken


@dataclass(frozen=True)
class Problem:
    """What is wrong with one field, in words, and what was perhaps meant."""

    name: str
    text: str
    readings: tuple[Reading, ...] = ()

    @property
    def step(self) -> Step:
        """Where it can be put right."""
        return step_of(self.name)


@dataclass(frozen=True)
class Asked:
    """The fields that could be read, by name, and the problems of the others."""

    values: dict[str, Any] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()


def read(kept: Kept, steps: Iterable[Step] = STEPS) -> Asked:
    """Return what was typed for some steps."""
    values: dict[str, Any] = {}
    problems: list[Problem] = []
    for step in steps:
        for quantity in step.fields:
            entry = _entry(kept, quantity)
            if entry.problem:
                problems.append(Problem(quantity.name, entry.problem, entry.readings))
            elif entry.value is not None:
                values[quantity.name] = entry.value
    return Asked(values, tuple(problems))


def read_step(kept: Kept, step: Step) -> Asked:
    """Return what was typed for one step, judged in the light of the other steps."""
    found = read(kept, [step])
    if found.problems:
        return found
    names = {quantity.name for quantity in step.fields}
    problems = (one for one in _contradictions(read(kept).values) if one.name in names)
    return Asked(found.values, tuple(problems))


def read_all(kept: Kept) -> Asked:
    """Return all entries, or what is in the way of a question."""
    found = read(kept)
    problems = found.problems or tuple(_contradictions(found.values))
    return Asked(found.values, problems)


def read_question(kept: Kept) -> tuple[Question | None, tuple[Problem, ...]]:
    """Return the question that all entries make, or what is in the way of one."""
    found = read_all(kept)
    if found.problems:
        return None, found.problems
    return question_of(found.values, _foot(found.values)), ()


def as_sent(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was read as the API takes it: the foot as a part of its own."""
    foot = _foot(values)
    return {**{name: value for name, value in values.items() if name not in foot}, "foot": foot}


def proposal(kept: Kept) -> Policy | None:
    """Return the stitches to propose, once foot and gauge are known."""
    values = read(kept, [step for step in STEPS if step.fields != STITCHES]).values
    needed = {m.name for m in MEASUREMENTS if m.required} | {one.name for one in GAUGE}
    return proposed(_foot(values), _gauge(values)) if needed <= set(values) else None


def _contradictions(values: dict[str, Any]) -> Iterator[Problem]:
    """Yield what the domain says against entries that can be read one by one."""
    try:
        if all(m.name in values for m in MEASUREMENTS if m.required):
            require_plausible(_foot(values))
        if all(quantity.name in values for quantity in STITCHES):
            Policy(**{quantity.name: values[quantity.name] for quantity in STITCHES})
    except Invalid as error:
        yield from (_problem(fault) for fault in error.faults)


def _problem(fault: Fault) -> Problem:
    return Problem(fault.field, _refused(fault.field, shown(fault.value), fault.wanted))


def _refused(name: str, given: str, wanted: str) -> str:
    return f"{spoken(name)}: {given} will not do; {wanted}."


def _entry(kept: Kept, quantity: Quantity) -> Entry:
    typing = kept.entries.get(quantity.name)
    text = typing.text if typing else ""
    if isinstance(quantity, Measurement):
        return read_length(text, typing.unit if typing else kept.unit, quantity)
    if not typing and quantity in STITCHES and (policy := proposal(kept)):
        return Entry(getattr(policy, quantity.name))
    return _count(text, quantity, kept.width)


def _count(text: str, quantity: Quantity, width: str) -> Entry:
    """Read a count; of the gauge's as many as lie on 10 cm."""
    if not text.strip():
        return Entry(problem=f"Give the {label(quantity)}.") if quantity.required else Entry()
    said = typed(text)
    numbers = [_counted(n, quantity, width) for n in said.numbers] if said else []
    good = [number for number in numbers if quantity.fault(number) is None]
    if said is None or said.unit or len(good) != 1:
        over = " in 10 cm" if quantity in GAUGE else ""
        wanted = f"{quantity.wanted}{over}"
        return Entry(problem=_refused(quantity.name, f"“{text.strip()}”", wanted))
    return Entry(good[0])


def _counted(number: float, quantity: Quantity, width: str) -> float:
    if quantity in GAUGE:
        return per_10cm(number, *WIDTHS[width])
    return int(number) if quantity.integer and number.is_integer() else number


def _foot(values: Mapping[str, Any]) -> dict[str, float]:
    return {m.name: values[m.name] for m in MEASUREMENTS if m.name in values}


def _gauge(values: dict[str, Any]) -> Gauge:
    return Gauge(*(values[quantity.name] for quantity in GAUGE))
