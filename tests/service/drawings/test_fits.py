"""Five small heels in the order of their depth."""

from __future__ import annotations

import re
from itertools import pairwise

from models.domain.quantities import FIT_SCORES
from service.drawings.fits import HEIGHT, WIDTH, fit_drawing


def numbers(path: str) -> list[float]:
    return [float(number) for number in re.findall(r"-?\d+\.?\d*", path)]


def back_of(score: int) -> float:
    """Return how far back the sock reaches, in units of the drawing from the left."""
    return min(numbers(fit_drawing(score).sock)[::2])


def test_every_score_has_a_drawing_and_deeper_ones_reach_further_back() -> None:
    backs = [back_of(score) for score in FIT_SCORES]
    assert all(one > other for one, other in pairwise(backs))
    foot = min(numbers(fit_drawing(0).foot)[::2])
    assert back_of(-1) > foot == back_of(0) > back_of(1)


def test_all_of_it_is_inside_of_the_picture() -> None:
    for score in FIT_SCORES:
        drawing = fit_drawing(score)
        for path in (drawing.sock, *drawing.strains):
            found = numbers(path)
            assert all(0 <= x <= WIDTH for x in found[::2]), (score, path)
            assert all(0 <= y <= HEIGHT for y in found[1::2]), (score, path)


def test_only_shallow_heels_are_strained_and_the_shallowest_most() -> None:
    assert [len(fit_drawing(score).strains) for score in FIT_SCORES] == [4, 2, 0, 0, 0]
