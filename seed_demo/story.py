"""The demo's story: found a group, report, calibrate, ask, print what to knit, and design.

Every POST carries an idempotency key, so a second telling changes nothing, for as long as keys are
kept, and one that was cut off goes on where it stopped.
"""

from __future__ import annotations

import hashlib
import sys
import textwrap
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from migrations.runner import upgrade
from seed_demo import design, people
from seed_demo.client import Client, Refused
from seed_demo.server import HOST, running
from service.config import Settings, data_folder

WIDTH = 88


def tell(settings: Settings) -> None:
    """Tell the story on the database of the settings."""
    upgrade(settings.database_url)
    token_file = _token_file(settings)
    with running(replace(settings, group_creation="open")) as port, Client(HOST, port) as client:
        click.echo("An invented group: nobody in it exists and no sock of it was ever knitted.")
        group = _group(client, token_file)
        _report(client, group)
        _calibrate(client, group)
        suggestion = _ask(client, group)
        _print_worksheet(client, suggestion["schedule"])
        design.tell(client, group)
    where = f"http://{settings.host}:{settings.port}"
    click.echo(f"\nServe it:   {_command()} serve   (then {where}/docs)")
    click.echo(f"The token:  {token_file}")
    click.echo(f"The group:  {where}{group}")


def _command() -> str:
    """Return how this program was called, so that it can be called again."""
    called = Path(sys.argv[0])
    return str(called) if called.name == "heeldepth" else "heeldepth"


def _token_file(settings: Settings) -> Path:
    """Return where the token of the demo's steward is kept, one for each database."""
    digest = hashlib.sha256(settings.database_url.encode()).hexdigest()
    return data_folder() / f"demo-token-{digest[:8]}"


def _group(client: Client, token_file: Path) -> str:
    """Return the path of the demo's group, founded where this is the first telling."""
    if token_file.exists():
        client.token = token_file.read_text().strip()
        try:
            return f"/v1/groups/{client.get('/v1/groups')['items'][0]['id']}"
        except Refused:
            client.token = None  # the database was made anew since
    agreed = client.get("/v1/consent")["version"]
    body = {"name": people.GROUP, "steward": people.STEWARD, "consent_version": agreed}
    made = client.post("/v1/groups", body)
    client.token = made["token"]
    token_file.touch(mode=0o600)
    token_file.write_text(made["token"])
    return f"/v1/groups/{made['id']}"


def _report(client: Client, group: str) -> None:
    told = list(enumerate(people.reports()))
    with click.progressbar(told, label="Recording reports over HTTP") as bar:
        for number, report in bar:
            client.post(f"{group}/reports", report, key=f"demo report {number}")


def _calibrate(client: Client, group: str) -> None:
    made = client.post(f"{group}/calibrations", {}, key="demo calibration")
    click.echo(
        f"Calibration {made['number']} rests on {made['reports']} reports of "
        f"{made['reporters']} reporters. Its verdict ({made['standing']}):"
    )
    click.echo(_wrapped(made["reasons"][0]))
    if made["standing"] == "waiting":
        client.post(f"{group}/calibrations/{made['id']}/activation", {}, key="demo activation")
    click.echo("From its card:")
    for line in _from_card(client.get(f"{group}/calibrations/{made['id']}/card")):
        click.echo(_wrapped(line))


def _from_card(card: dict[str, Any]) -> list[str]:
    """Return two lines of a card: what a longer heel diagonal asks for, and the coverage."""
    said = {section["key"]: section["sentences"] for section in card["sections"]}
    about_diagonal = (line for line in said["effects"] if "heel diagonal" in line)
    return [next(about_diagonal), said["coverage"][0]]


def _ask(client: Client, group: str) -> dict[str, Any]:
    found = client.post(f"{group}/suggestions", people.QUESTION, key="demo question")
    feet = ", ".join(f"{name} {value}" for name, value in people.NEW_FOOT.items())
    click.echo(f"\nFor a new foot ({feet}):")
    click.echo(
        f"work {found['slow_decrease_rounds']} slow-decrease rounds; the chance that the heel is "
        f"just right is about {found['chance_just_right']:.0%},\nand the best number for such "
        f"feet is {found['low']} to {found['high']} with a chance of 8 in 10. Beside it:"
    )
    for one in found["neighbours"]:
        click.echo(
            f"  {one['slow_decrease_rounds']} rounds, {one['depth_mm']:.0f} mm deep: "
            f"{one['chance_just_right']:.0%}"
        )
    for line in _finer(found):
        click.echo(_wrapped(line))
    for warning in found["warnings"]:
        click.echo(_wrapped(f"Note: {warning['text']}"))
    return found


def _finer(found: dict[str, Any]) -> Iterator[str]:
    """Yield what would do better than the answer, and what would narrow it, where anything."""
    fine, worth = found["fine_adjustment"], found["worth_measuring"]
    if fine:
        yield (
            f"Finer: {fine['plain_rounds']} plain and {fine['slow_decrease_rounds']} slow-decrease "
            f"rounds, {fine['depth_mm']:.0f} mm deep: {fine['chance_just_right']:.0%}"
        )
    if worth:
        yield (
            f"Worth measuring: {worth['measurement']}; the range would be about "
            f"{worth['range_rounds_then']} rounds wide, not {worth['range_rounds_now']}."
        )


def _print_worksheet(client: Client, schedule: dict[str, Any]) -> None:
    sheet = client.post("/v1/schedules", schedule)
    click.echo(
        f"\nThe heel: {sheet['total_rounds']} rounds, {sheet['depth_mm']:.0f} mm deep, "
        f"diagonal ease {sheet['diagonal_ease']:+.0%}"
    )
    for title, text in _parts(sheet):
        click.echo(f"\n{title.upper()}")
        for line in text.splitlines():
            click.echo(_wrapped(line))


def _parts(sheet: dict[str, Any]) -> Iterator[tuple[str, str]]:
    placement = sheet["waste_yarn"]
    yield "waste yarn", f"{placement['toe_up']}\n{placement['cuff_down']}"
    for step in sheet["instructions"]:
        yield step["section"], step["text"]
    yield "take care", "\n".join(sheet["cautions"])


def _wrapped(text: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="  ")
