"""Can one guess from published figures who is in a group? Run: python .bench/membership.py --help.

The attacker is as strong as can be: knows all that somebody reported, knows the world and the
people it draws its groups from, and can calibrate as many groups as it likes. For each target it
finds how the exact figures move when the target takes the place of somebody else, and weighs the
published figures by that move (the likelihood ratio of normal figures with one covariance). Other
groups stand for what the attacker works out; those guessed at are never among them. In and out,
the 49 others are the same, so that the difference is told apart from chance with fewer draws.

Printed is the area under the ROC curve: the chance that a group with the target looks more like it
than one without. For the mean of one normal figure of n people, that is .5 + .225 / sqrt(n) on
average over targets, .532 for 50 (from E Phi(|z| / sqrt(2n))): what one exact figure gives away.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from sklearn.covariance import LedoitWolf
from sklearn.metrics import roc_auc_score

from models.actions.coarse_card import coarse_sections
from models.learning import calibration as learning
from models.learning.bands import KINDS, cells
from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.learning.evidence import COLUMNS, Evidence, people
from models.learning.knitters_units import effects, reference_rounds
from models.learning.slices import OUTERMOST, excess_mm, label, numbers_of

Figures = dict[str, float]
Fitted = dict[str, Any]

SOMETIMES = 0.1
"""A figure that fewer groups show is left out of the guess."""

NUMBERS = range(-OUTERMOST - 1, OUTERMOST + 1)

POOL = 12_000
"""Reports of the people that groups are drawn from, some 4,000 people."""


@dataclass(frozen=True)
class Draws:
    """How much is drawn in each world."""

    people: int
    groups: int
    targets: int
    others: int


@dataclass(frozen=True)
class World:
    """Figures of calibrated groups.

    `known` (M) are only the attacker's, `without` (G) and `within` (G, T) those guessed at, the
    latter with each target in the place of somebody.
    """

    known: list[Fitted]
    without: list[Fitted]
    within: list[list[Fitted]]


def whole_rounds(fitted: Fitted) -> Figures:
    """Return what somebody who does not calibrate is shown of what was learned."""
    return _values(coarse_sections({**fitted, "slices": []}))


def unrounded(fitted: Fitted) -> Figures:
    """Return the figures that those are rounded from."""
    kinds = {"effects": "effects", "reference_rounds": "reference_feet"}
    return {
        f"{key} {one['subject']}": one["rounds"]
        for kind, key in kinds.items()
        for one in fitted[kind]
    }


def shown_to_all(fitted: Fitted) -> Figures:
    """Return every figure on the card, and so on Learn, of somebody who does not calibrate.

    That a slice is there, as ten people are in it, is a figure as well.
    """
    slices = [one for one in fitted["slices"] if one["people"] >= FEWEST_REPORTERS_SHOWN]
    there = {one["number"] for one in slices}
    told = {f"people {number}": float(number in there) for number in NUMBERS}
    return _values(coarse_sections({**fitted, "slices": slices})) | told


def exact_slices(fitted: Fitted) -> Figures:
    """Return all that is rounded on that card, exactly, with the people of every slice."""
    people = {one["number"]: one["people"] for one in fitted["slices"]}
    told = {f"people {number}": float(people.get(number, 0)) for number in NUMBERS}
    means = {f"scores_by_depth {label(s['number'])}": s["reported"] for s in fitted["slices"]}
    return unrounded(fitted) | means | told


def _values(sections: list[dict[str, Any]]) -> Figures:
    return {
        f"{section['key']} {row['label']}": float(row["value"])
        for section in sections
        for row in section["rows"]
        if row["value"] is not None
    }


def counts_in_tens(fitted: Fitted) -> Figures:
    """Return the people by yarn weight and size in tens, none below ten, which are not shown."""
    return {
        name: float((n + 5) // 10 * 10) if n >= FEWEST_REPORTERS_SHOWN else 0.0
        for name, n in exact_counts(fitted).items()
    }


def exact_counts(fitted: Fitted) -> Figures:
    """Return the people by yarn weight and size."""
    return {name: float(people) for name, people in fitted["counts"].items()}


def with_the_number_of_reports(of: Callable[[Fitted], Figures]) -> Callable[[Fitted], Figures]:
    """Return figures with how many reports they rest on, which every suggestion says."""
    return lambda fitted: of(fitted) | {"reports": fitted["reports"]}


def coefficients(fitted: Fitted) -> Figures:
    """Return what those who calibrate see of a model."""
    return {
        f"{one['term']} {part}": one[part]
        for one in fitted["coefficients"]
        for part in ("mean", "standard_error")
    }


PUBLISHED: dict[str, tuple[Callable[[Fitted], Figures], Callable[[Fitted], Figures]]] = {
    "what everybody is shown": (shown_to_all, exact_slices),
    "the same unrounded": (exact_slices, exact_slices),
    "with the number of reports": (
        with_the_number_of_reports(shown_to_all),
        with_the_number_of_reports(exact_slices),
    ),
    "whole rounds alone": (whole_rounds, unrounded),
    "counts of people in tens": (counts_in_tens, exact_counts),
    "coefficients (designers, stewards)": (coefficients, coefficients),
}
"""Figures as published, and the exact ones that an attacker learns their moves from."""


def fitted_group(columns: dict[str, np.ndarray], reporter: np.ndarray) -> Fitted:
    """Return the figures of a group's calibration, as they are stored."""
    evidence = Evidence.of(columns, reporter)
    made = learning.calibrate(evidence)
    return {
        "reports": made.reports,
        "coefficients": learning.coefficients(made.to_json()),
        "effects": [one.to_json() for one in effects(made.posterior, made.seen.yarn_weights)],
        "reference_rounds": [one.to_json() for one in reference_rounds(made.posterior)],
        "slices": list(every_slice(evidence)),
        "counts": {
            f"{kind} {cell.label}": people(evidence.reporter, cell.rows)
            for kind in KINDS
            for cell in cells(evidence, kind, 1)
        },
    }


def every_slice(evidence: Evidence) -> Iterator[Fitted]:
    """Yield the slices of reports, those of fewer than ten people too."""
    numbers = numbers_of(excess_mm(evidence.columns))
    for number in np.unique(numbers).tolist():
        rows = numbers == number
        mean, who = float(evidence.score[rows].mean()), people(evidence.reporter, rows)
        yield {"number": number, "reported": mean, "people": who}


def simulated(task: tuple[str, int, Draws]) -> World:
    """Return the calibrated groups of one world."""
    sys.path.insert(0, str(Path(__file__).parent))
    from decisions.feet import FootSource
    from decisions.population import draw_reports
    from decisions.worlds import WORLDS

    name, seed, draws = task
    streams = [np.random.default_rng([seed, *name.encode(), part]) for part in range(3)]
    pool = draw_reports(streams[1], WORLDS[name](streams[0]), FootSource(), POOL)
    everybody = streams[2].permutation(int(pool.reporter.max()))
    targets, crowd = everybody[: draws.targets], everybody[draws.targets :]

    def group(people: np.ndarray) -> Fitted:
        rows = np.isin(pool.reporter, people)
        return fitted_group({c: pool.columns[c][rows] for c in COLUMNS}, pool.reporter[rows])

    def drawn() -> np.ndarray:
        return streams[2].choice(crowd, draws.people, replace=False)

    known = [group(drawn()) for _ in range(draws.others)]
    told(name, f"{draws.others} groups of the attacker's own")
    without, within = [], []
    for number in range(draws.groups):
        people = drawn()
        without.append(group(people))
        within.append([group(np.append(people[1:], target)) for target in targets])
        told(name, f"group {number + 1} of {draws.groups}")
    return World(known, without, within)


def told(world: str, what: str) -> None:
    """Say how far a world is."""
    print(f"{world}: {what}", file=sys.stderr, flush=True)


def scores(
    world: World, published: Callable[[Fitted], Figures], exact: Callable[[Fitted], Figures]
) -> tuple[np.ndarray, np.ndarray]:
    """Return the attacker's scores (G, T) of groups with each target, and without."""
    flat = [*world.known, *world.without, *(one for row in world.within for one in row)]
    seen, true = _matrices([published(one) for one in flat], [exact(one) for one in flat])
    first, groups = len(world.known), len(world.without)
    out, known = seen[first : first + groups], seen[: first + groups]
    inside = seen[first + groups :].reshape(groups, -1, seen.shape[1])
    moves = true[first + groups :].reshape(inside.shape) - true[first : first + groups, None]
    ridge = 1e-3 * np.eye(seen.shape[1])
    precision = np.linalg.inv(LedoitWolf().fit(known).covariance_ + ridge)
    found = np.empty((2, *inside.shape[:2]))
    for number in range(groups):
        move = moves[np.arange(groups) != number].mean(axis=0)
        weight, middle = move @ precision, known.mean(axis=0) + move / 2
        found[0, number] = np.sum((inside[number] - middle) * weight, axis=1)
        found[1, number] = np.sum((out[number] - middle) * weight, axis=1)
    return found[0], found[1]


def _matrices(seen: list[Figures], true: list[Figures]) -> tuple[np.ndarray, np.ndarray]:
    """Return figures as rows of one scale; one that is sometimes missing is its mean there."""
    every = dict.fromkeys(name for one in true for name in one)
    names = [n for n in every if np.mean([n in one for one in seen]) > SOMETIMES]
    both = [np.array([[one.get(n, np.nan) for n in names] for one in of]) for of in (seen, true)]
    filled = [np.where(np.isnan(of), np.nanmean(of, axis=0), of) for of in both]
    centre, spread = filled[1].mean(axis=0), filled[1].std(axis=0) + 1e-12
    return (filled[0] - centre) / spread, (filled[1] - centre) / spread


def area(inside: np.ndarray, out: np.ndarray) -> float:
    """Return the area under the ROC curve of two sets of scores."""
    labels = np.repeat([1, 0], [inside.size, out.size])
    return float(roc_auc_score(labels, np.concatenate([inside.ravel(), out.ravel()])))


def with_error(inside: np.ndarray, out: np.ndarray) -> tuple[float, float]:
    """Return the area, and its standard error by leaving out groups and targets in turn."""
    variance = sum(
        (n - 1) / n * float(np.sum(np.square(left - left.mean())))
        for axis, n in enumerate(inside.shape)
        for left in [np.array(list(_leaving_out(inside, out, axis)))]
    )
    return area(inside, out), variance**0.5


def _leaving_out(inside: np.ndarray, out: np.ndarray, axis: int) -> Iterator[float]:
    for place in range(inside.shape[axis]):
        yield area(np.delete(inside, place, axis), np.delete(out, place, axis))


def main() -> None:
    """Print the area under the curve for each set of published figures, by world and in all."""
    names = ("geometry", "yarn_shape", "non_linear", "careless", "irrelevant", "adapted")
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--worlds", nargs="+", choices=names, default=names)
    for option, default in (("people", 50), ("groups", 10), ("targets", 36), ("others", 80)):
        parser.add_argument(f"--{option}", type=int, default=default)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    draws = Draws(asked.people, asked.groups, asked.targets, asked.others)
    tasks = [(name, asked.seed, draws) for name in asked.worlds]
    with ProcessPoolExecutor(asked.processes) as executor:
        worlds = dict(zip(asked.worlds, executor.map(simulated, tasks), strict=True))
    print(f"| {asked.people} people | {' | '.join(worlds)} | mean | standard error |")
    print("|---" * (len(worlds) + 3) + "|")
    for what, (published, exact) in PUBLISHED.items():
        found = [with_error(*scores(world, published, exact)) for world in worlds.values()]
        areas = [one for one, _ in found]
        error = sum(one**2 for _, one in found) ** 0.5 / len(found)
        cells = " | ".join(f"{one:.3f}" for one in [*areas, float(np.mean(areas)), error])
        print(f"| {what} | {cells} |", flush=True)


if __name__ == "__main__":
    main()
