"""Calibrating as a job: the same three steps as at once."""

from __future__ import annotations

from models.actions import calibrations, judging
from service.jobs.work import Work
from service.screening import hold_doubtful


def calibrate(work: Work) -> None:
    """Hold doubtful reports, learn from the others, and keep the calibration."""
    work.out_of(3)
    work.note()
    hold_doubtful(work.database, work.actor)
    work.step()
    work.note()
    with work.database.read() as reading:
        judged = judging.calibrated(reading, work.actor)
    work.step()
    with work.database.write.begin() as session:
        row = calibrations.keep_calibration(session, work.actor, judged)
        work.step()
        summary = calibrations.summary(session, row, work.actor)
        told = {name: summary[name] for name in ("number", "active", "reasons")}
        work.finish(session, {"calibration_id": row.id, **told})
