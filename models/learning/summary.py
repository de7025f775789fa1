"""What one group learned, as an estimate with its precision for each term: shared without rows.

A summary holds no foot, no score, no name and no belief: it is what the group's reports say alone.
Its figures are rounded to steps that are wider than what one of fifty people makes out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import log
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from models.domain.errors import Fault, Invalid
from models.domain.quantities import Quantity
from models.learning.factor import Factor
from models.learning.ordinal.arrays import Floats
from models.learning.terms import TERM_NAMES

FORM: Final = "heeldepth summary 1"
"""Raise the number whenever a term comes to mean something else."""

FEWEST_PEOPLE = 50
"""People behind a summary, at least."""

_MOST = 10**9
PEOPLE = Quantity("people", FEWEST_PEOPLE, _MOST, "", "People behind it, in tens.", integer=True)
REPORTS = Quantity("reports", FEWEST_PEOPLE, _MOST, "", "Their reports, about.", integer=True)
ESTIMATE = Quantity("estimate", -100, 100, "", "Latent units per unit of the term.")
PRECISION = Quantity("precision", 1e-6, 1e6, "", "One over the squared standard error.")
"""Figures of a summary; no group of this world says more of a term than the last allows."""

_HEX, _ORIGIN_LENGTH = "0123456789abcdef", 32
_STEP = 1.1
"""From one precision that is stated to the next; an estimate is stated in quarters of its
standard error, where one of fifty people makes about a seventh."""


@dataclass(frozen=True)
class Summary:
    """What reports of so many people say, and a name for the group that tells nobody who it is.

    The same group always has the same `origin` (32 characters from 0-9 and a-f), so that it is
    never counted twice.
    """

    origin: str
    people: int
    reports: int
    factor: Factor

    def to_json(self) -> dict[str, Any]:
        """Return the summary as JSON values; terms of which it says nothing are left out."""
        told = zip(TERM_NAMES, self.factor.estimate, self.factor.precision, strict=True)
        return {
            "form": FORM,
            "origin": self.origin,
            "people": self.people,
            "reports": self.reports,
            "coefficients": [
                {"term": name, "estimate": float(estimate), "precision": float(precision)}
                for name, estimate, precision in told
                if precision > 0
            ],
        }

    @classmethod
    def from_json(cls, given: Mapping[str, Any]) -> Summary:
        """Return the summary that `to_json` described, whoever wrote it.

        Raises
        ------
        Invalid
            Where another version made it, or its figures cannot be a summary's.

        """
        faults = list(_faults(given))
        if faults:
            raise Invalid(faults)
        told = {one["term"]: one for one in given["coefficients"]}
        silent = {"precision": 0.0, "estimate": 0.0}
        precision, estimate = (
            np.array([float(told.get(name, silent)[what]) for name in TERM_NAMES])
            for what in ("precision", "estimate")
        )
        counts = given["people"], given["reports"]
        return cls(given["origin"], *counts, Factor(precision, estimate))


def summary_of(origin: str, people: int, reports: int, said: Factor) -> Summary:
    """Return the summary of a group as it may be shared: rounded, people to tens below.

    Raises
    ------
    Invalid
        Where fewer than 50 people reported.

    """
    if people < FEWEST_PEOPLE:
        wanted = f"{FEWEST_PEOPLE} or more: what fewer people know is not shared"
        raise Invalid([Fault("reporters", people, wanted)])
    in_two_digits = round(reports, 2 - len(str(reports)))
    return Summary(origin, people // 10 * 10, in_two_digits, _rounded(said))


def _rounded(said: Factor) -> Factor:
    """Return figures in the steps that are stated; what no summary may state is left unsaid."""
    told = said.precision > 0
    steps = np.round(np.log(np.where(told, said.precision, 1.0)) / log(_STEP))
    precision = _STEP**steps
    estimate = np.round(4 * said.estimate * np.sqrt(precision)) / 4 / np.sqrt(precision)
    kept = told & _within(PRECISION, precision) & _within(ESTIMATE, estimate)
    return Factor(_digits(np.where(kept, precision, 0.0)), _digits(np.where(kept, estimate, 0.0)))


def _within(quantity: Quantity, values: Floats) -> NDArray[np.bool_]:
    return (quantity.low <= values) & (values <= quantity.high)


def _digits(values: Floats) -> Floats:
    """Return values in six digits: those that a file needs."""
    return np.array([float(f"{value:.6g}") for value in values.tolist()])


def _faults(given: Mapping[str, Any]) -> Iterator[Fault]:
    if given.get("form") != FORM:
        wanted = f"it must be {FORM!r}: a summary made by this version of heeldepth"
        yield Fault("form", given.get("form"), wanted)
    origin = given.get("origin")
    if not isinstance(origin, str) or len(origin) != _ORIGIN_LENGTH or set(origin) - set(_HEX):
        yield Fault("origin", origin, f"it must be {_ORIGIN_LENGTH} characters from 0-9 and a-f")
    yield from _of_quantities(given, PEOPLE, REPORTS)
    told = given.get("coefficients")
    if isinstance(told, list) and 1 <= len(told) <= len(TERM_NAMES):
        yield from _coefficient_faults(told)
    else:
        wanted = f"a list of 1 to {len(TERM_NAMES)} objects with term, estimate and precision"
        yield Fault("coefficients", told, wanted)


def _coefficient_faults(told: list[Any]) -> Iterator[Fault]:
    left = set(TERM_NAMES)
    for place, one in enumerate(told):
        named = one if isinstance(one, dict) else {}
        term, where = named.get("term"), f"coefficients.{place}"
        if not isinstance(term, str) or term not in left:
            yield Fault(f"{where}.term", term, "a term of this version of heeldepth, once")
        left -= {str(term)}
        for fault in _of_quantities(named, ESTIMATE, PRECISION):
            yield fault.under(where)


def _of_quantities(given: Mapping[str, Any], *quantities: Quantity) -> Iterator[Fault]:
    for quantity in quantities:
        fault = quantity.fault(given.get(quantity.name))
        if fault is not None:
            yield fault
