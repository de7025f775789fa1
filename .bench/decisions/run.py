"""Run candidates through worlds, seeds and sizes."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from decisions.candidates import CANDIDATES
from decisions.feet import FootSource
from decisions.metrics import Marks, exam, marked
from decisions.population import draw_questions, draw_reports
from decisions.worlds import WORLDS

SIZES = (10, 25, 100, 300, 1000)
QUESTIONS = 400


@dataclass(frozen=True)
class Result:
    """Marks of one candidate in one world, for one seed and number of reports."""

    candidate: str
    world: str
    seed: int
    reports: int
    seconds: float
    marks: Marks


def results(
    source: FootSource,
    worlds: Iterable[str],
    seeds: Iterable[int],
    sizes: Iterable[int],
    candidates: Iterable[str],
    asked: int = QUESTIONS,
) -> Iterator[Result]:
    """Yield a result for every combination; each seed's smaller pools are part of its larger."""
    wanted, amounts, names = list(worlds), list(sizes), list(candidates)
    for seed in seeds:
        for world in wanted:
            truth = WORLDS[world](np.random.default_rng([seed, 1]))
            questions = draw_questions(np.random.default_rng([seed, 2]), truth, source, asked)
            pool = draw_reports(np.random.default_rng([seed, 3]), truth, source, max(amounts))
            sheet = exam(truth, questions)
            for reports in amounts:
                evidence = pool.first(reports)
                for name in names:
                    began = time.perf_counter()
                    decision = CANDIDATES[name].decide(evidence, questions)
                    seconds = time.perf_counter() - began
                    yield Result(name, world, seed, reports, seconds, marked(sheet, decision))
