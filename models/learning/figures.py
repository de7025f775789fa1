"""The figures of a calibration's card: what it rests on, what it has learned, how well it foresees.

All of it is plain JSON and none of it is about fewer than ten people, save `unusual_reporters`,
which is for stewards alone, and the `rows` of a slice, which nobody is shown. How well scores are
foreseen is judged by reports of people who were not met (`models.learning.held_out`).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from models.learning.bands import KINDS, Cell, cells, pooled, tallies
from models.learning.calibration import FEWEST_REPORTERS_SHOWN, Calibration
from models.learning.clustered import weighted_mean
from models.learning.estimator import Offsets
from models.learning.evidence import Column, Evidence, people
from models.learning.evidence_blocks import EvidenceBlocks
from models.learning.folds import Rows
from models.learning.held_out import JUST_RIGHT, Foreseen, categories
from models.learning.knitters_units import effects, reference_rounds
from models.learning.predictive import expected_scores
from models.learning.score_curve import score_curve
from models.learning.slices import slices

MOST_OFFSET, MOST_DOUBT = 2.0, 0.5
"""An offset of more sds, or a larger chance of answering unlike all others, is unusual."""

CENTRAL = 0.8
"""The share of what is foreseen whose coverage is reported."""


def learned_figures(
    fitted: Calibration, evidence: EvidenceBlocks, offsets: Offsets
) -> dict[str, Any]:
    """Return counts, effects in knitters' units, and reporters with unusual offsets."""
    strange = unusual(evidence, offsets)
    return {
        "counts": {kind: tallies(evidence, kind, FEWEST_REPORTERS_SHOWN) for kind in KINDS},
        "effects": [
            effect.to_json() for effect in effects(fitted.posterior, fitted.seen.yarn_weights)
        ],
        "reference_rounds": [effect.to_json() for effect in reference_rounds(fitted.posterior)],
        "unusual": len(strange),
        "unusual_reporters": strange,
        "curve": score_curve(fitted.posterior, evidence),
    }


def foreseen_figures(evidence: Evidence, foreseen: Foreseen) -> dict[str, Any]:
    """Return reliability, coverage and residuals on reports whose reporters were not met."""
    return {
        "compared": _size(evidence, np.ones(evidence.reports, dtype=bool)),
        "reliability": reliability(evidence, foreseen),
        "coverage": coverage(evidence, foreseen),
        "residuals": {kind: _residuals(evidence, foreseen, kind) for kind in KINDS},
        "slices": slices(evidence, foreseen),
    }


def reliability(evidence: Evidence, foreseen: Foreseen) -> list[dict[str, Any]]:
    """Return, in bands of .1 of the stated chance of just right, the share reported just right."""
    stated = foreseen.chances[:, JUST_RIGHT]
    right = evidence.score == 0
    tenth = np.minimum(stated * 10, 9).astype(np.int64)
    bands = [Cell("stated", f"{10 * k} to {10 * k + 10} %", tenth == k) for k in np.unique(tenth)]
    return [
        _labelled(evidence, cell)
        | {
            "stated": float(stated[cell.rows].mean()),
            "reported": float(right[cell.rows].mean()),
        }
        for cell in pooled(bands, evidence.reporter, FEWEST_REPORTERS_SHOWN)
    ]


def coverage(evidence: Evidence, foreseen: Foreseen) -> dict[str, Any]:
    """Return how much of the probability integral transform lies in the central 80 %.

    A score of chance p above those of chance F in all has the transform spread evenly over F to
    F + p; counted is the share of that stretch between .1 and .9. Drawn at random from its stretch
    the transform would be uniform under a right model, so the mean share is 80 % there, whatever
    the chances are; no draw is needed.

    References
    ----------
    Czado, C., Gneiting, T. and Held, L. (2009). Predictive model assessment for count data.
    Biometrics 65, 1254-1261 (from memory).

    """
    rows, category = np.arange(evidence.reports), categories(evidence)
    upper = np.cumsum(foreseen.chances, axis=1)[rows, category]
    chance = foreseen.chances[rows, category]
    outside = (1 - CENTRAL) / 2
    inside = np.clip(upper, outside, 1 - outside) - np.clip(upper - chance, outside, 1 - outside)
    return _mean(evidence, inside / chance)


def unusual(evidence: EvidenceBlocks, offsets: Offsets) -> list[dict[str, Any]]:
    """Return the reporters, by number, whose offset or doubt is unusual, with their figures."""
    strange = (np.abs(offsets.offset) > MOST_OFFSET) | (offsets.doubt > MOST_DOUBT)
    return [
        {"reporter": number, "reports": reports, "offset_sds": float(offset), "doubt": float(doubt)}
        for number, reports, offset, doubt in zip(
            offsets.reporter[strange].tolist(),
            evidence.counts[strange].tolist(),
            offsets.offset[strange],
            offsets.doubt[strange],
            strict=True,
        )
    ]


def _residuals(evidence: Evidence, foreseen: Foreseen, kind: str) -> list[dict[str, Any]]:
    """Return by how much scores are higher than expected; above 0 deeper than foreseen."""
    residual = evidence.score - expected_scores(foreseen.chances)[0]
    return [
        _labelled(evidence, cell) | _mean(evidence, residual, cell.rows)
        for cell in cells(evidence, kind, FEWEST_REPORTERS_SHOWN)
    ]


def _mean(evidence: Evidence, values: Column, rows: Rows | None = None) -> dict[str, float]:
    taken = np.ones(evidence.reports, dtype=bool) if rows is None else rows
    found = weighted_mean(values[taken], np.ones(int(taken.sum())))
    error = found.standard_error(evidence.reporter[taken])
    return {"mean": found.value, "standard_error": error}


def _labelled(evidence: Evidence, cell: Cell) -> dict[str, Any]:
    return {"label": cell.label, **_size(evidence, cell.rows)}


def _size(evidence: Evidence, rows: Rows) -> dict[str, Any]:
    return {"reports": int(rows.sum()), "people": people(evidence.reporter, rows)}
