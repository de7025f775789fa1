"""What does a wider pool bring a new group? Run: python .bench/wider.py [SEEDS] [GROUPS] [REPORTS].

In each of the decision benchmark's six worlds a group begins with what GROUPS others, of REPORTS
reports each, have shared: groups of the same world, of one other world, or each of a world of its
own. Printed is the share of the best possible chance that its suggestions reach, from geometry
alone and by how much it is higher with the pool.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from models.learning.calibration import calibrate
from models.learning.pooling import pooled
from models.learning.suggest import suggest
from models.learning.summary import Summary, summary_of
from models.learning.wider import Wider

SIZES, ASKED = (0, 10, 25, 200), 150
ALONE = "geometry alone"


def truth_of(place: int, seed: int) -> Any:
    """Return the truth of one of the worlds, counted round and round."""
    from decisions.worlds import WORLDS

    worlds = list(WORLDS.values())
    return worlds[place % len(worlds)](np.random.default_rng([seed, 1]))


def shared(place: int, seed: int, group: int, reports: int) -> Summary:
    """Return what one group shares."""
    from decisions.feet import FootSource
    from decisions.population import draw_reports

    draw = np.random.default_rng([seed, 7, group])
    sent = draw_reports(draw, truth_of(place, seed), FootSource(), reports)
    made = calibrate(sent.first(reports))
    if made.alone is None:
        raise SystemExit(f"{reports} reports are of too few people to be shared")
    return summary_of(f"{group:032x}", made.reporters, made.reports, made.alone)


def pools(place: int, seed: int, number: int, reports: int) -> dict[str, Wider | None]:
    """Return the wider pools that a group may begin with, by what the other groups are."""
    worlds = {
        "same world": [(place, seed)] * number,
        "one other world": [(place + 2, seed + 500)] * number,
        "a world each": [(place + k, seed + 600 + k) for k in range(1, number + 1)],
    }
    return {
        where: pooled([shared(*world, k, reports) for k, world in enumerate(those)])
        for where, those in worlds.items()
    }


def trial(place: int, seed: int, number: int, reports: int) -> Iterator[tuple[int, str, float]]:
    """Yield own reports, what the group began with, and the share of the best chance reached."""
    from decisions.feet import FootSource
    from decisions.metrics import exam
    from decisions.population import draw_questions, draw_reports

    truth, source = truth_of(place, seed), FootSource()
    questions = draw_questions(np.random.default_rng([seed, 2]), truth, source, ASKED)
    own = draw_reports(np.random.default_rng([seed, 3]), truth, source, max(SIZES))
    sheet = exam(truth, questions)
    for where, wider in {ALONE: None, **pools(place, seed, number, reports)}.items():
        for size in SIZES:
            made = calibrate(own.first(size), wider)
            chosen = [suggest(made, one).best.slow_decrease_rounds for one in questions.asked]
            reached = sheet.chances[np.arange(ASKED), chosen].mean()
            yield size, where, float(reached / sheet.best.mean())


def main() -> None:
    """Print the mean share reached by number of own reports, and what each pool adds."""
    sys.path.insert(0, str(Path(__file__).parent))
    given = [int(word) for word in sys.argv[1:]]
    seeds, number, reports = [*given, *(20, 4, 400)[len(given) :]]
    found: defaultdict[tuple[int, str], list[float]] = defaultdict(list)
    for seed in range(seeds):
        for place in range(6):
            for size, where, reached in trial(place, seed, number, reports):
                found[size, where].append(reached)
    for (size, where), values in sorted(found.items()):
        more = np.array(values) - (0.0 if where == ALONE else np.array(found[size, ALONE]))
        error = more.std() / np.sqrt(len(more))
        print(f"{size} reports, {where}: {more.mean():+.4f} (standard error {error:.4f})")


if __name__ == "__main__":
    main()
