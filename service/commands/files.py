"""Files in and out: reports, questions, answers."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

import click

from models.actions import answer_file, export_reports, import_reports
from models.actions.actor import operator
from models.actions.csv_extent import count_lines
from models.actions.file_outcome import FileRefused, Outcome
from models.actions.groups import find_group
from models.actions.report_template import template_csv, template_workbook
from models.actions.row_faults import RowFault
from models.domain.wording import counted
from service.commands import writing
from service.commands.opening import opened
from service.commands.writing import ending, replacing

SHOWN_FAULTS = 20
IN_PART = 3

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_GROUP = click.option("--group", "name", required=True, help="Name or id of the group.")
_KEEP_GOOD = click.option(
    "--keep-good", is_flag=True, help="Use the rows that are right and leave out the others."
)


@click.command("import")
@click.argument("file", type=_FILE)
@_GROUP
@_KEEP_GOOD
@click.option("--dry-run", is_flag=True, help="Only say what would be done.")
def import_(file: Path, name: str, *, keep_good: bool, dry_run: bool) -> None:
    """Take in the reports of a CSV file or workbook that the group does not have yet.

    Workbooks may be XLSX, XLS or ODS.

    All of them or none. A sheet that has grown can be taken in again: what is known already is
    left as it is.
    """
    with opened() as database, refusals(), _bar("Importing", 0) as bar:
        with database.read() as session:
            actor = operator(find_group(session, name).id)
        length = partial(setattr, bar, "length")
        with (
            import_reports.read_first(file, out_of=length, progress=bar.update) as chunks,
            database.write() as session,
        ):
            outcome = import_reports.take_in(
                session, actor, chunks, keep_good=keep_good, dry_run=dry_run, progress=bar.update
            )
            if not dry_run:
                session.commit()
    known = f"; {counted(outcome.known, 'report')} known already" if outcome.known else ""
    done = "Would import" if dry_run else "Imported"
    click.echo(f"{done} {counted(outcome.used, 'report')}{known}.")
    _doubt(outcome)
    _leave_in_part(outcome)


@click.command()
@click.argument("file", type=_FILE)
@_GROUP
@writing.out()
@_KEEP_GOOD
def suggest(file: Path, name: str, out: Path, *, keep_good: bool) -> None:
    """Answer a CSV file of questions with a CSV file of suggestions."""
    if out.exists() and out.samefile(file):
        raise click.BadParameter("it is the file of questions; name another", param_hint="--out")
    with opened() as database, refusals(), _rows("Suggesting", file) as progress:
        with database.read() as session, replacing(out) as answers:
            actor = operator(find_group(session, name).id)
            outcome = answer_file.answer_file(
                session, actor, file, answers, keep_good=keep_good, progress=progress
            )
    click.echo(f"Answered {counted(outcome.used, 'question')} in {out}.")
    if outcome.geometry_alone:
        click.echo("Geometry alone answered: no calibration is active in this group.", err=True)
    _leave_in_part(outcome)


@click.command()
@_GROUP
@writing.out(*export_reports.Form)
def export(name: str, out: Path) -> None:
    """Write all reports of a group as a file that `import` takes in.

    By its ending it is CSV (.csv), a workbook (.xlsx) or lines of JSON (.jsonl, not taken in).
    """
    form = export_reports.Form(ending(out))
    with opened() as database, database.read() as session:
        actor = operator(find_group(session, name).id)
        count = export_reports.count_reports(session, actor)
        with replacing(out, binary=True) as file, _bar("Exporting", count) as bar:
            file.writelines(export_reports.exported(session, actor, form, bar.update))
    click.echo(f"Exported {counted(count, 'report')} to {out}.")


@click.command()
@writing.out("csv", "xlsx")
def template(out: Path) -> None:
    """Write a file of reports to fill in, .xlsx or .csv, with one invented row."""
    book = ending(out) == "xlsx"
    with replacing(out, binary=True) as file:
        file.write(template_workbook() if book else template_csv())
    click.echo(f"Wrote a template to {out}.")


@contextmanager
def _rows(label: str, file: Path) -> Iterator[Callable[[int], None]]:
    """Show progress over the rows of a file, which are counted by its lines."""
    with _bar(label, count_lines(file)) as bar:
        yield bar.update


def _bar(label: str, length: int) -> Any:
    return click.progressbar(length=length, label=label, file=sys.stderr)


@contextmanager
def refusals() -> Iterator[None]:
    """Say which rows are wrong, and exit with 1, where a file is refused."""
    try:
        yield
    except FileRefused as refused:
        _show(refused.outcome)
        raise click.ClickException(
            f"{counted(refused.outcome.left_out, 'row')} wrong; nothing was done. Mend them, or "
            "use --keep-good to go on without them."
        ) from refused


def _leave_in_part(outcome: Outcome) -> None:
    """Exit with 3 where rows were left out."""
    if outcome.left_out:
        _show(outcome)
        click.echo(f"Left out {counted(outcome.left_out, 'row')}.", err=True)
        sys.exit(IN_PART)


def _doubt(outcome: Outcome) -> None:
    """Say what is unusual in rows that were used."""
    if outcome.doubts_in_all:
        click.echo("Used, but look again:", err=True)
        _list(outcome.doubts, outcome.doubts_in_all)


def _show(outcome: Outcome) -> None:
    _list(outcome.faults, outcome.faults_in_all)


def _list(faults: list[RowFault], in_all: int) -> None:
    for fault in faults[:SHOWN_FAULTS]:
        click.echo(str(fault), err=True)
    if in_all > SHOWN_FAULTS:
        click.echo(f"... and {in_all - SHOWN_FAULTS} more", err=True)
