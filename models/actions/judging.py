"""Calibrating a group's reports and judging the result; nothing is kept yet."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from models.actions.activations import active_id
from models.actions.actor import Actor
from models.actions.basis import Basis, by_size
from models.actions.evidence import Pool
from models.actions.publishing import people_of
from models.actions.shown_slices import with_people
from models.actions.wider_pool import beginning_of
from models.domain.roles import Action
from models.learning import calibration as learning
from models.learning.challenge import BeganWith, Challenge, challenge_on
from models.learning.estimator import Offsets
from models.learning.figures import foreseen_figures, learned_figures
from models.learning.wider import Wider
from models.tables.base import now
from models.tables.learned import Calibration

Gather = Callable[[Session, Pool, datetime | None], Basis]
"""Returns the reports of a pool, those known at a moment marked."""


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


def calibrated(session: Session, actor: Actor, gather: Gather = by_size) -> Judged:
    """Return the calibration of the group's reports, compared with the one that answers.

    It only reads, so that nobody who writes has to wait for it. `gather` says where the reports
    are while they are learned from.
    """
    actor.require(Action.CALIBRATE)
    return judged(session, Pool(actor.group_id), active_id(session, actor.group_id), gather)


def judged(
    session: Session, pool: Pool, champion_id: str | None, gather: Gather = by_size
) -> Judged:
    """Return the calibration of a pool, compared with one that answers, or with geometry alone."""
    as_of = now()
    wider = beginning_of(session, pool.group_id, pool.forgotten)
    known_until, theirs = _champion(session, champion_id)
    basis = gather(session, pool, known_until)
    fitted, offsets = learning.calibrate_blocks(basis.evidence, basis.fingerprint, wider)
    compared = challenge_on(basis.compared, basis.known, BeganWith(wider, theirs))
    diagnostics = {
        "as_of": as_of.isoformat(),
        **compared.to_json(),
        "figures": _figures(fitted, basis, offsets, compared),
    }
    return Judged(fitted, champion_id, diagnostics, people_of(session, pool))


def _champion(session: Session, champion_id: str | None) -> tuple[datetime | None, Wider | None]:
    """Return when the active calibration read the reports, None where geometry answers.

    And the wider pool that it began with, if any.
    """
    if champion_id is None:
        return None, None
    champion = session.get_one(Calibration, champion_id)
    fitted = learning.usable(champion.artefact)
    if fitted.outdated:
        return None, None
    if champion.diagnostics is None:
        return champion.created_at, fitted.wider
    return datetime.fromisoformat(champion.diagnostics["as_of"]), fitted.wider


def _figures(
    fitted: learning.Calibration, basis: Basis, offsets: Offsets, compared: Challenge
) -> dict[str, Any] | None:
    if compared.compared is None or compared.foreseen is None:
        return None
    learned = learned_figures(fitted, basis.evidence, offsets)
    learned["unusual_reporters"] = [
        {**one, "member_id": basis.member_of(one["reporter"])}
        for one in learned["unusual_reporters"]
    ]
    foreseen = foreseen_figures(compared.compared, compared.foreseen)
    foreseen["slices"] = [with_people(one, basis.member_of) for one in foreseen["slices"]]
    return learned | foreseen
