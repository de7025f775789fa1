"""The table of yarn weights."""

from __future__ import annotations

from typing import Any

import pytest

# Craft Yarn Council, Standard Yarn Weight System: stitches per 4 inches of stockinette.
PUBLISHED = {
    0: (33, 40),
    1: (27, 32),
    2: (23, 26),
    3: (21, 24),
    4: (16, 20),
    5: (12, 15),
    6: (7, 11),
}
CM_PER_4IN = 10.16


def test_yarn_weights_are_those_of_the_craft_yarn_council(client: Any) -> None:
    items = {item["number"]: item for item in client.get("/v1/yarn-weights").json["items"]}
    shown = {n: (i["stitches_per_4in_low"], i["stitches_per_4in_high"]) for n, i in items.items()}
    assert {**PUBLISHED, 7: (shown[7][0], 6)} == shown  # jumbo is "6 and fewer"


def test_yarn_weights_name_their_source_and_convert_4_inches_to_10_cm(lasting: Any) -> None:
    answer = lasting.client.get("/v1/yarn-weights")
    assert "Craft Yarn Council" in answer.json["source"]
    for item in answer.json["items"]:
        for end in ("low", "high"):
            exact = item[f"stitches_per_4in_{end}"] * 10 / CM_PER_4IN
            assert item[f"stitches_per_10cm_{end}"] == pytest.approx(exact, abs=0.05)
