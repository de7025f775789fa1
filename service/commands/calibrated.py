"""Calibrated defaults and the test-knit plan at the command line."""

from __future__ import annotations

import csv
import textwrap
from pathlib import Path
from typing import Any

import click
from sqlalchemy.orm import Session

from models.actions import adoptions, design_defaults, keep_designs, pattern_tables, test_knits
from models.actions.actor import Actor, operator
from models.actions.design_defaults import Wishes
from models.actions.groups import find_group
from models.actions.spreadsheet import safe_cell
from models.domain.wording import counted
from models.tables.socks import Design
from service.commands.designing import DESIGN, GROUP
from service.commands.opening import opened
from service.commands.writing import FileToWrite, ending, replacing

_WIDTH = 88


@click.command()
@GROUP
@DESIGN
@click.option("--choose-plain", is_flag=True, help="Let plain rounds from 2 to 6 be chosen too.")
@click.option("--allow-jumps", is_flag=True, help="Let neighbouring sizes differ by more than 2.")
@click.option("--adopt", is_flag=True, help="Give all sizes their calibrated defaults.")
@click.option("--undo", is_flag=True, help="Take the latest adoption back.")
@click.option("--table", type=FileToWrite("csv", "txt"), help="Write the pattern's table.")
def defaults(
    name: str, design_name: str, table: Path | None, *, adopt: bool, undo: bool, **wished: bool
) -> None:
    """Show what every size of a design has, and what suits most of its people."""
    if adopt and undo:
        raise click.UsageError("either --adopt or --undo")
    wishes = Wishes(**wished)
    with opened() as database:
        with database.read() as session:
            actor, design = _found(session, name, design_name)
            _show(design_defaults.read_defaults(session, actor, design, wishes))
        if adopt or undo:
            with database.write.begin() as session:
                actor, design = _found(session, name, design_name)
                _change(session, actor, design, None if undo else wishes)
        if table is not None:
            with database.read() as session, replacing(table) as file:
                actor, design = _found(session, name, design_name)
                file.write(_table(session, actor, design, ending(table)))


def _found(session: Session, group: str, design: str) -> tuple[Actor, Design]:
    actor = operator(find_group(session, group).id)
    return actor, keep_designs.find_design(session, actor, design)


def _change(session: Session, actor: Actor, design: Design, wishes: Wishes | None) -> None:
    """Adopt what was wished for, or without any wishes undo the latest adoption."""
    if wishes is None:
        done, said = adoptions.undo(session, actor, design), "Undone"
    else:
        done, said = adoptions.adopt(session, actor, design, wishes), "Adopted"
    click.echo(f"{said} for {counted(len(done.changes), 'size')}.")


def _table(session: Session, actor: Actor, design: Design, form: str) -> str:
    lines = pattern_tables.lines_of(session, actor, design)
    if form == "csv":
        return pattern_tables.as_csv(lines)
    return pattern_tables.as_text(design.name, lines)


@click.command()
@GROUP
@DESIGN
@click.option(
    "--socks",
    required=True,
    type=click.IntRange(1, test_knits.MOST_SOCKS),
    help="How many socks you can have knitted.",
)
@click.option("--out", type=FileToWrite("csv"), help="Write the plan too.")
def plan(name: str, design_name: str, socks: int, out: Path | None) -> None:
    """Show which socks to have test-knitted next, and what each would teach."""
    with opened() as database, database.read() as session:
        actor, design = _found(session, name, design_name)
        planned = test_knits.read_plan(session, actor, design, socks)
    for sock in planned["socks"]:
        click.echo(_sock_in_words(sock))
    click.echo(planned["text"])
    if out is not None:
        rows = [_flat(sock) for sock in planned["socks"]]
        with replacing(out) as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(rows[0])
            writer.writerows([safe_cell(value) for value in row.values()] for row in rows)


def _show(found: dict[str, Any]) -> None:
    for size in found["sizes"]:
        today, best = size["today"], size["calibrated"]
        click.echo(f"Size {size['label']}")
        click.echo(_wrapped(f"today {_worked(today)}: {today['words']}"))
        surest = f"{size['low']} to {size['high']} slow with a chance of 8 in 10"
        click.echo(_wrapped(f"calibrated {_worked(best)}: {best['words']}; the best is {surest}"))
        for warning in size["warnings"]:
            click.echo(_wrapped(f"Note: {warning['text']}"))
    if found["left_out"]:
        click.echo(f"Too little is known of: {', '.join(found['left_out'])}.")


def _worked(choice: dict[str, Any]) -> str:
    plain = counted(choice["plain_rounds"], "plain round")
    return f"{plain} and {counted(choice['slow_decrease_rounds'], 'slow-decrease round')}"


def _sock_in_words(sock: dict[str, Any]) -> str:
    foot = sock["foot"]
    asked = (
        f"{sock['number']}. Size {sock['label']}, yarn weight {sock['yarn_weight']}, a foot about "
        f"{foot['foot_length_mm']} mm long, {foot['foot_circumference_mm']} mm around, heel "
        f"diagonal {foot['heel_diagonal_mm']} mm: "
        f"{counted(sock['slow_decrease_rounds'], 'slow-decrease round')}, "
        f"{sock['medium_decrease_rounds']} medium, {sock['fast_decrease_rounds']} fast after "
        f"{counted(sock['plain_rounds'], 'plain round')}."
    )
    return f"{textwrap.fill(asked, _WIDTH, subsequent_indent='  ')}\n{_wrapped(sock['text'])}"


def _flat(sock: dict[str, Any]) -> dict[str, Any]:
    return {**{k: v for k, v in sock.items() if k not in ("foot", "size_id")}, **sock["foot"]}


def _wrapped(text: str) -> str:
    return textwrap.fill(text, _WIDTH, initial_indent="  ", subsequent_indent="  ")
