"""The kinds of jobs: who may ask for each, and what is run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from models.actions.actor import Actor
from models.domain.roles import Action
from service.jobs.calibrating import calibrate
from service.jobs.erasing import erase_oneself, erase_reporter
from service.jobs.exporting import export_reports
from service.jobs.importing import import_reports
from service.jobs.work import Work


@dataclass(frozen=True)
class Kind:
    """One kind of job; `run` ends by `work.finish` in the transaction of its effect."""

    action: Action
    run: Callable[[Work], None]


KINDS = {
    "calibration": Kind(Action.CALIBRATE, calibrate),
    "import": Kind(Action.RECORD_FOR_OTHERS, import_reports),
    "export": Kind(Action.READ_OWN, export_reports),
    "erasure": Kind(Action.ERASE, erase_oneself),
    "reporter erasure": Kind(Action.ERASE_REPORTERS, erase_reporter),
}
"""Of each kind a group has at most one running at a time."""


def kinds_of(actor: Actor) -> frozenset[str]:
    """Return the kinds that an actor may ask for, and therefore see."""
    return frozenset(name for name, kind in KINDS.items() if actor.may(kind.action))
