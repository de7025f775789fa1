"""Calibrating a group's reports and judging the result; nothing is kept yet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from models.actions.activations import active_id
from models.actions.actor import Actor
from models.actions.evidence import Gathered, Pool, gathered
from models.actions.publishing import people_of, whose
from models.actions.wider_pool import beginning_of
from models.domain.roles import Action
from models.learning import calibration as learning
from models.learning.challenge import BeganWith, Challenge, challenge
from models.learning.estimator import Offsets
from models.learning.figures import foreseen_figures, learned_figures
from models.learning.folds import Rows
from models.learning.wider import Wider
from models.tables.base import now
from models.tables.learned import Calibration


@dataclass(frozen=True)
class Judged:
    """A calibration, the id of the one that was active meanwhile, and how the two compare.

    `diagnostics` holds when the reports were read (`as_of`), verdict, reasons and gaps, and the
    card's figures (None below ten people). `people` says whose reports it was made from.
    """

    fitted: learning.Calibration
    champion_id: str | None
    diagnostics: Mapping[str, Any]
    people: Mapping[str, str]


def calibrated(session: Session, actor: Actor) -> Judged:
    """Return the calibration of the group's reports, compared with the one that answers.

    It only reads, so that nobody who writes has to wait for it.
    """
    actor.require(Action.CALIBRATE)
    return judged(session, Pool(actor.group_id), active_id(session, actor.group_id))


def judged(session: Session, pool: Pool, champion_id: str | None) -> Judged:
    """Return the calibration of a pool, compared with one that answers, or with geometry alone."""
    as_of = now()
    reports = gathered(session, pool)
    wider = beginning_of(session, pool.group_id, pool.forgotten)
    fitted, offsets = learning.calibrate_with_offsets(reports.evidence, wider)
    known, theirs = _champion(session, champion_id, reports)
    compared = challenge(reports.evidence, known, BeganWith(wider, theirs))
    diagnostics = {
        "as_of": as_of.isoformat(),
        **compared.to_json(),
        "figures": _figures(fitted, reports, offsets, compared),
    }
    return Judged(fitted, champion_id, diagnostics, people_of(session, pool))


def _champion(
    session: Session, champion_id: str | None, reports: Gathered
) -> tuple[Rows | None, Wider | None]:
    """Return the rows that the active calibration has seen, None where geometry answers.

    And the wider pool that it began with, if any.
    """
    if champion_id is None:
        return None, None
    champion = session.get_one(Calibration, champion_id)
    fitted = learning.usable(champion.artefact)
    if fitted.outdated:
        return None, None
    as_of = champion.created_at
    if champion.diagnostics is not None:
        as_of = datetime.fromisoformat(champion.diagnostics["as_of"])
    return reports.before(as_of), fitted.wider


def _figures(
    fitted: learning.Calibration, reports: Gathered, offsets: Offsets, compared: Challenge
) -> dict[str, Any] | None:
    if compared.compared is None or compared.foreseen is None:
        return None
    members = reports.members
    learned = learned_figures(fitted, reports.evidence, offsets)
    learned["unusual_reporters"] = [
        {**one, "member_id": members[one["reporter"]]} for one in learned["unusual_reporters"]
    ]
    foreseen = foreseen_figures(compared.compared, compared.foreseen)
    foreseen["slices"] = [
        {**one, "rows": sorted(whose(members[who], said) for who, said in one["rows"])}
        for one in foreseen["slices"]
    ]
    return learned | foreseen
