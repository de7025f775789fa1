"""What could be achieved at best: the true chances, and the decisions of one who knows them."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from decisions.population import Questions
from decisions.worlds import Truth
from models.learning.evidence import Column
from models.learning.missing import filled


def chance_given(depths: Column, need: Column, spread: Column, truth: Truth) -> Column:
    """Return the chance of "just right" (n, S) at `depths` where `need` (n,) is known."""
    latent, wide = truth.slope * (depths - need[:, None]), spread[:, None]
    return ndtr((truth.half_width - latent) / wide) - ndtr((-truth.half_width - latent) / wide)


def true_chances(truth: Truth, questions: Questions) -> Column:
    """Return the true chance (n, S) over knitters, from the whole foot."""
    need = truth.need(questions.whole)
    spread = np.full(len(need), truth.spread)
    return np.where(questions.offered, chance_given(questions.depths, need, spread, truth), -1.0)


def oracle_choice(truth: Truth, questions: Questions) -> np.ndarray:
    """Return the best number (n,) for one who knows the world but sees only what was measured."""
    complete, sd = filled(questions.seen)
    guessed = {**questions.seen, **complete}
    need = truth.need(guessed)
    # How far the need moves per mm of heel diagonal, for those who had to estimate theirs.
    longer = {**guessed, "heel_diagonal_mm": guessed["heel_diagonal_mm"] + 1}
    moved = truth.need(longer) - need
    spread = np.sqrt(truth.spread**2 + (truth.slope * moved * sd) ** 2)
    chances = chance_given(questions.depths, need, spread, truth)
    return np.argmax(np.where(questions.offered, chances, -1.0), axis=1)
