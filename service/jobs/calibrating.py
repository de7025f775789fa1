"""Calibrating as a job: the same steps as at once."""

from __future__ import annotations

from functools import partial

from models.actions import calibrations
from service.apart import nothing
from service.calibrating import calibrated, one_at_a_time
from service.jobs.work import Work


def calibrate(work: Work) -> None:
    """Hold doubtful reports, learn from the others, and keep the calibration."""
    work.out_of(3)
    work.note()
    with one_at_a_time(work.database, work.actor, partial(work.step, 0)):
        judged = calibrated(work.database, nothing, work.actor, work.step)
        with work.database.write.begin() as session:
            row = calibrations.keep_calibration(session, work.actor, judged)
            work.step()
            summary = calibrations.summary(session, row, work.actor)
            told = {name: summary[name] for name in ("number", "active", "reasons")}
            work.finish(session, {"calibration_id": row.id, **told})
