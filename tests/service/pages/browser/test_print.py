"""The answer on paper."""

from __future__ import annotations

import io
import re

import pytest
from playwright.sync_api import Page
from pypdf import PdfReader

LONG = {
    "foot_length_mm": "31",
    "foot_circumference_mm": "29",
    "heel_diagonal_mm": "",
    "stitches_per_10cm": "78",
    "rounds_per_10cm": "110",
    "heel_stitches": "204",
}
"""A large foot in thread, with more rounds than anybody will knit, and with every warning."""


@pytest.mark.parametrize("form", ["A4", "Letter"])
@pytest.mark.parametrize("answers", [{}, LONG], ids=["usual", "long"])
def test_an_answer_fits_two_pages_with_every_round_and_no_navigation(
    opening, entries, form: str, answers: dict[str, str]
) -> None:
    page: Page = opening("/ask/answer", entries(**answers))
    rounds = page.get_by_role("checkbox").count()
    printed = PdfReader(io.BytesIO(page.pdf(format=form)))
    words = [re.sub(r"\s+", " ", leaf.extract_text()) for leaf in printed.pages]
    assert len(words) <= 2
    told = re.findall(r"(\d+) (?:knit|decrease) \d+ stitches", " ".join(words))
    assert sorted(map(int, told)) == list(range(1, rounds + 1))
    for left_out in ("For programs", "Print", "Untick", "Forget", "rounds done"):
        assert left_out not in " ".join(words)
    assert "Take care" in words[-1]
