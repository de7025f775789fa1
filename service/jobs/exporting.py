"""Exporting as a job: the file is kept with it.

The result's `of_others` says whether the file holds what only stewards see.
"""

from __future__ import annotations

from tempfile import TemporaryFile

from models.actions import export_reports as exporting
from models.actions.job_files import keep_file
from models.domain.roles import Action
from service.jobs.work import Work


def export_reports(work: Work) -> None:
    """Write all reports that the actor may see, and keep the file with the job."""
    form = exporting.Form(work.asked["form"])
    of_others = work.actor.may(Action.RECORD_FOR_OTHERS)
    with TemporaryFile() as file:
        with work.database.read() as reading:
            count = exporting.count_reports(reading, work.actor)
            work.out_of(count)
            work.note()
            file.writelines(exporting.exported(reading, work.actor, form, work.step))
        file.seek(0)
        with work.database.write.begin() as session:
            size = keep_file(session, work.held.group_id, work.held.id, file)
            made = {"form": form.value, "of_others": of_others, "reports": count, "bytes": size}
            work.finish(session, made)
