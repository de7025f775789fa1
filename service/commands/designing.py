"""Designs at the command line: size tables in and out."""

from __future__ import annotations

from pathlib import Path

import click

from models.actions import designs, keep_designs, size_files
from models.actions.actor import operator
from models.actions.groups import find_group
from models.actions.sizes import put_sizes
from models.domain.wording import counted
from models.tables.socks import Design
from service.commands import writing
from service.commands.files import refusals
from service.commands.opening import opened
from service.commands.writing import ending, replacing

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
GROUP = click.option("--group", "name", required=True, help="Name or id of the group.")
DESIGN = click.option("--design", "design_name", required=True, help="Name of the design.")


@click.group()
def sizes() -> None:
    """Look after the sizes of a design."""


@sizes.command("import")
@click.argument("file", type=_FILE)
@GROUP
@DESIGN
def import_(file: Path, name: str, design_name: str) -> None:
    """Take in a size table, CSV or a workbook (XLSX, XLS, ODS), all of it or nothing.

    A design that is new is made.
    """
    with opened() as database, refusals():
        rows = size_files.read_sizes(file)
        with database.write.begin() as session:
            actor = operator(find_group(session, name).id)
            design_id, _ = designs.named(session, actor, design_name, None)
            design = session.get_one(Design, design_id)
            new, changed = put_sizes(session, actor, design, rows)
    click.echo(f"{counted(new, 'size')} new, {changed} changed.")


@sizes.command()
@GROUP
@DESIGN
@writing.out("csv", "xlsx")
def export(name: str, design_name: str, out: Path) -> None:
    """Write the size table that `sizes import` takes in: a workbook where FILE ends in .xlsx."""
    with opened() as database, database.read() as session:
        actor = operator(find_group(session, name).id)
        design = keep_designs.find_design(session, actor, design_name)
        if ending(out) == "xlsx":
            with replacing(out, binary=True) as file:
                size_files.export_workbook(session, actor, design, file)
        else:
            with replacing(out) as file:
                size_files.export_csv(session, actor, design, file)
    click.echo(f"Wrote the sizes of {design.name} to {out}.")
