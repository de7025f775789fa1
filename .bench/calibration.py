"""How long does calibrating take? Run: python .bench/calibration.py [REPORTS].

Ours and one fit of scikit-learn's boosted trees on the same rows and columns, in turn; the ratio
counts, seconds only describe the machine. Then the comparison with an active calibration that knew
half of the rows, and the card's figures, as ratios to calibrating. Also: the memory that each adds
at its peak, and the microseconds of a suggestion and of its numeric part.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import numpy as np
from sklearn.ensemble import HistGradientBoostingRegressor

from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.learning.calibration import Calibration, calibrate, calibrate_with_offsets
from models.learning.challenge import challenge
from models.learning.decide import decide
from models.learning.design import design
from models.learning.evidence import Evidence
from models.learning.evidence_blocks import EvidenceBlocks
from models.learning.figures import foreseen_figures, learned_figures
from models.learning.question import Question
from models.learning.suggest import suggest

TURNS = 3
ASKED = 2000
CANDIDATES = 10


def seconds(work: Callable[[], object]) -> float:
    """Return how long something takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def boosting(evidence: Evidence) -> None:
    """Fit boosted trees that rise with depth to all columns."""
    socks = design(evidence.columns)
    rising = [1] + [0] * socks.columns.shape[1]
    columns = np.column_stack([socks.excess, socks.columns])
    HistGradientBoostingRegressor(monotonic_cst=rising).fit(columns, evidence.score)


def peak_mib() -> float:
    """Return the largest memory of this process so far, in MiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def suggestions(calibration: Calibration) -> None:
    """Print the microseconds of a suggestion, and of its numeric part for ten candidates."""
    few = {"foot_length_mm": 252, "foot_circumference_mm": 236}
    all_taken = {**few, "heel_diagonal_mm": 318, "ankle_circumference_mm": 220}
    asked, guessed = (
        Question(foot, 1, Gauge(30, 42), Policy(64, 16, 4)) for foot in (all_taken, few)
    )
    sock, steps = np.ones(len(calibration.figures.mean)), np.arange(CANDIDATES) * 0.7
    for name, work in (
        ("a suggestion", lambda: suggest(calibration, asked)),
        ("one with two measurements to weigh", lambda: suggest(calibration, guessed)),
        ("its numeric part", lambda: decide(calibration.figures, sock, steps, 0.0)),
    ):
        work()
        print(f"{name}: {median(seconds(work) for _ in range(ASKED)) * 1e6:.0f} us")


def judging(evidence: Evidence, calibrating: float) -> None:
    """Print what comparing and the card cost beside calibrating, which took so many seconds."""
    known, before = evidence.reporter % 2 == 0, peak_mib()
    start = time.perf_counter()
    judged = challenge(evidence, known)
    comparing = time.perf_counter() - start
    fitted, offsets = calibrate_with_offsets(evidence)
    start = time.perf_counter()
    learned_figures(fitted, EvidenceBlocks.whole(evidence), offsets)
    if judged.compared is None or judged.foreseen is None:
        raise SystemExit("ten people at least must have reported")
    foreseen_figures(judged.compared, judged.foreseen)
    card = time.perf_counter() - start
    print(
        f"comparing {judged.compared.reports} of them {comparing:.2f} s, ratio to calibrating "
        f"{comparing / calibrating:.2f}; the card's figures {card:.2f} s; "
        f"{peak_mib() - before:.0f} MiB more"
    )


def main() -> None:
    """Compare on reports of the decision benchmark's careless world."""
    sys.path.insert(0, str(Path(__file__).parent))
    from decisions.feet import FootSource
    from decisions.population import draw_reports
    from decisions.worlds import WORLDS

    reports = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    truth = WORLDS["careless"](np.random.default_rng(5))
    pool = draw_reports(np.random.default_rng(6), truth, FootSource(), reports)
    evidence, before = pool.first(reports), peak_mib()
    calibration = calibrate(evidence)
    print(f"{reports} reports: {peak_mib() - before:.0f} MiB above {before:.0f}")
    turns = [
        (seconds(lambda: calibrate(evidence)), seconds(lambda: boosting(evidence)))
        for _ in range(TURNS)
    ]
    ours, theirs = (median(column) for column in zip(*turns, strict=True))
    ratio = median(a / b for a, b in turns)
    print(f"calibrating {ours:.2f} s, boosting {theirs:.2f} s; ratio {ratio:.2f}")
    judging(evidence, ours)
    suggestions(calibration)


if __name__ == "__main__":
    main()
