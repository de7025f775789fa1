"""The demo's designer: an invented design of five sizes gets its calibrated defaults."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import click

from seed_demo.client import Client

NAME = "Invented lapwing heel"
LABELS = ("1", "2", "3", "4", "5")
SOCKS = 4


def sizes() -> Iterator[dict[str, Any]]:
    """Yield the sizes as `POST .../sizes` takes them; today all have the same rounds."""
    for number, label in enumerate(LABELS):
        length, width = 225 + 13 * number, 205 + 12 * number
        yield {
            "label": label,
            "foot_length_low_mm": length,
            "foot_length_high_mm": length + 13,
            "foot_circumference_low_mm": width,
            "foot_circumference_high_mm": width + 24,
            "yarn_weight": 1,
            "stitches_per_10cm": 30,
            "rounds_per_10cm": 42,
            "heel_stitches": int((width + 12) * 0.9 * 0.3) // 4 * 4,
            "closing_stitches": 16,
            "medium_decrease_rounds": 4,
            "plain_rounds": 3,
            "slow_decrease_rounds": 2,
        }


def tell(client: Client, group: str) -> None:
    """Make the design, adopt what the reports say, and ask what to have knitted next."""
    made = client.post(f"{group}/designs", {"name": NAME}, key="demo design")
    design = f"{group}/designs/{made['id']}"
    for size in sizes():
        client.post(f"{design}/sizes", size, key=f"demo size {size['label']}")
    adopted = client.post(f"{design}/adoptions", {}, key="demo adoption")
    before = {change["label"]: change["before"] for change in adopted["changes"]}
    click.echo(f"\nA designer's five sizes ({NAME}) get what suits most of their people:")
    for size in client.get(f"{design}/defaults")["sizes"]:
        best = size["calibrated"]
        had = before.get(size["label"], best)["slow_decrease_rounds"]
        click.echo(
            f"  size {size['label']}: {had} slow-decrease rounds become "
            f"{best['slow_decrease_rounds']}; {best['words']}"
        )
    _plan(client, design)


def _plan(client: Client, design: str) -> None:
    planned = client.get(f"{design}/test-knit-plan?socks={SOCKS}")
    click.echo("To make them surer, have knitted next:")
    for sock in planned["socks"]:
        click.echo(
            f"  size {sock['label']}, heel diagonal about {sock['foot']['heel_diagonal_mm']} mm, "
            f"{sock['slow_decrease_rounds']} slow-decrease rounds (settles {sock['settled']:.0%})"
        )
