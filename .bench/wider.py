"""What does a wider pool bring a new group? Run: python .bench/wider.py [SEEDS] [GROUPS] [REPORTS].

In each of the decision benchmark's six worlds a group begins with what GROUPS others, of REPORTS
reports each, have shared: groups of the same world, of one other world, or each of a world of its
own. Printed is the share of the best possible chance that its suggestions reach, from geometry
alone and by how much it is higher with the pool.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from pathlib import Path

import numpy as np

from models.learning.calibration import calibrate
from models.learning.pooling import pooled
from models.learning.suggest import suggest
from models.learning.summary import Summary, summary_of
from models.learning.wider import Wider

SIZES, ASKED = (0, 10, 25, 200), 150
WHERE = ("same world", "one other world", "a world each")


def main() -> None:
    """Print the mean share reached by number of own reports, and what each pool adds."""
    sys.path.insert(0, str(Path(__file__).parent))
    from decisions.feet import FootSource
    from decisions.metrics import exam
    from decisions.population import draw_questions, draw_reports
    from decisions.worlds import WORLDS

    given = [int(word) for word in sys.argv[1:]]
    seeds, number, reports = [*given, *(20, 4, 400)[len(given) :]]
    worlds, source = list(WORLDS.values()), FootSource()

    def shared(place: int, seed: int, group: int) -> Summary:
        truth = worlds[place % len(worlds)](np.random.default_rng([seed, 1]))
        draw = np.random.default_rng([seed, 7, group])
        made = calibrate(draw_reports(draw, truth, source, reports).first(reports))
        if made.alone is None:
            raise SystemExit("so few reports are of too few people to be shared")
        return summary_of(f"{group:032x}", made.reporters, made.reports, made.alone)

    def pools(place: int, seed: int) -> list[Wider | None]:
        groups = range(1, number + 1)
        same = [shared(place, seed, group) for group in groups]
        other = [shared(place + 2, seed + 500, group) for group in groups]
        mixed = [shared(place + group, seed + 600 + group, group) for group in groups]
        return [pooled(same), pooled(other), pooled(mixed)]

    found: defaultdict[tuple[int, str], list[float]] = defaultdict(list)
    for seed in range(seeds):
        for place, world in enumerate(worlds):
            truth = world(np.random.default_rng([seed, 1]))
            questions = draw_questions(np.random.default_rng([seed, 2]), truth, source, ASKED)
            own = draw_reports(np.random.default_rng([seed, 3]), truth, source, max(SIZES))
            sheet = exam(truth, questions)

            def reached(size: int, wider: Wider | None) -> float:
                made = calibrate(own.first(size), wider)
                answers = [suggest(made, one) for one in questions.asked]
                chosen = [one.best.slow_decrease_rounds for one in answers]
                mean = sheet.chances[np.arange(ASKED), chosen].mean()
                return float(mean / sheet.best.mean())

            beside = pools(place, seed)
            for size in SIZES:
                alone = reached(size, None)
                found[size, "geometry alone"].append(alone)
                for where, wider in zip(WHERE, beside, strict=True):
                    found[size, where].append(reached(size, wider) - alone)
    for (size, where), values in found.items():
        spread = np.std(values) / np.sqrt(len(values))
        print(f"{size} reports, {where}: {np.mean(values):+.4f} (standard error {spread:.4f})")


if __name__ == "__main__":
    main()
