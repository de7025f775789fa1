"""Importing a large file as a job."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from models.actions import import_reports as importing
from models.actions.csv_chunks import Chunk
from models.actions.file_outcome import FileRefused, Outcome
from models.actions.job_files import drop_files
from service.jobs.work import Work
from service.problems import fault_told


def import_reports(work: Work) -> None:
    """Take in the file: read and checked first, then written in one short transaction."""

    def out_of(steps: int) -> None:
        work.out_of(steps)
        work.note()

    with (
        work.file() as path,
        importing.read_first(
            path, out_of=out_of, progress=work.step, after_each=lambda: work.step(0)
        ) as chunks,
    ):
        _take_in(work, chunks)


def _take_in(work: Work, chunks: Iterable[Chunk]) -> None:
    keep_good, dry_run = work.asked["keep_good"], work.asked["dry_run"]
    with work.database.write() as session:
        refused = False
        try:
            outcome = importing.take_in(
                session,
                work.actor,
                chunks,
                keep_good=keep_good,
                dry_run=dry_run,
                progress=work.step,
            )
        except FileRefused as error:
            if not dry_run:
                raise
            outcome, refused = error.outcome, True
        if dry_run:
            session.rollback()
        taken = 0 if refused else outcome.used
        work.finish(session, {"dry_run": dry_run, "taken": taken, **summed_up(outcome)})
        drop_files(session, [work.held.id])
        session.commit()


def summed_up(outcome: Outcome) -> dict[str, Any]:
    """Return what became of a file, with the first thousand faults and doubts."""
    return {
        "known": outcome.known,
        "left_out": outcome.left_out,
        "errors": [told(one.row, one.fault) for one in outcome.faults],
        "errors_in_all": outcome.faults_in_all,
        "doubts": [told(one.row, one.fault) for one in outcome.doubts],
        "doubts_in_all": outcome.doubts_in_all,
    }


def told(row: int, fault: Any) -> Mapping[str, Any]:
    """Return what is wrong in a row as problems tell it."""
    return fault_told(fault.under(f"rows.{row}"))
