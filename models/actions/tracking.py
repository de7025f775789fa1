"""Was it right? What a calibration stated of the reports that came after it.

No figure is of fewer than ten people, nor can one be had by taking figures from each other. Two
calibrations with fewer than ten people between them are judged on the same reports, those after
the later one. The table parts the reports that followed a suggestion from the others only where
ten people are in each part, and only for the calibration that answers.

Figures are worked out once for the same calibration and the same reports, and kept in this process
under a digest of all that they follow from: whatever changes a figure changes the digest.
"""

from __future__ import annotations

import hashlib
from dataclasses import asdict
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from models.actions.activations import active_id, owned
from models.actions.actor import Actor
from models.actions.came_after import Came, came_after
from models.actions.coarse_card import FOR_THOSE_WHO_CALIBRATE
from models.actions.shown_counts import in_tens
from models.domain.roles import Action
from models.learning import calibration as learning
from models.learning.drift import Band, Shift, bands, foreseen
from models.learning.evidence import Column, Evidence, people

TOO_FEW = "too few people yet"
_READY: dict[str, dict[str, Any]] = {}
"""Figures worked out before, by the digest of what they follow from; nobody changes them."""

_MOST_READY = 64


def outcomes(session: Session, actor: Actor, calibration_id: str) -> dict[str, Any]:
    """Return what came of a calibration's chances, as far as ten people can tell.

    Those who do not calibrate are told whether it drifted, without figures, and no sooner than ten
    people more have reported.

    Raises
    ------
    NotFound
        Where the group has no such calibration.
    Outdated
        Where an older version of this project made it.

    """
    actor.require(Action.READ_GROUP)
    row = owned(session, actor, calibration_id)
    fitted = learning.Calibration.from_json(row.artefact)
    came, exact = came_after(session, row), actor.may(Action.CALIBRATE)
    counts: dict[str, int | None] = {"reports": len(came.moments), "reporters": came.reporters}
    if not exact:
        counts = in_tens(len(came.moments), came.reporters)
    about = {"calibration_id": row.id, "number": row.number, **counts}
    if came.reporters < learning.FEWEST_REPORTERS_SHOWN:
        return about | _WITHHELD
    answers = active_id(session, actor.group_id) == row.id
    seen = came if exact else came.in_tens_of_people()
    judged = _judged(row.id, fitted, seen, answers=answers)
    return about | (judged if exact else _coarse(drifted=judged["drift"]))


_WITHHELD: dict[str, Any] = {
    **dict.fromkeys(("stated", "achieved", "shift", "shift_low", "shift_high", "drift")),
    "table": [],
    "withheld": TOO_FEW,
    "text": f"Fewer than {learning.FEWEST_REPORTERS_SHOWN} people have reported since: {TOO_FEW}.",
}


def _coarse(*, drifted: bool) -> dict[str, Any]:
    """Return what those who do not calibrate are told of outcomes."""
    fits = "Since then heels scored otherwise than" if drifted else "Since then heels scored as"
    text = f"{fits} was stated, as far as chance can tell."
    return {**_WITHHELD, "drift": drifted, "withheld": FOR_THOSE_WHO_CALIBRATE, "text": text}


def _judged(
    calibration_id: str, fitted: learning.Calibration, came: Came, *, answers: bool
) -> dict[str, Any]:
    """Return the figures of what came, worked out now or before."""
    evidence, followed = came.evidence(), came.followed(calibration_id) & answers
    digest = hashlib.sha256(calibration_id.encode())
    for part in (came.said, evidence.reporter, followed):
        digest.update(part.tobytes())
    ready = _READY.get(digest.hexdigest())
    if ready is None:
        if len(_READY) >= _MOST_READY:
            _READY.clear()
        ready = _READY[digest.hexdigest()] = _worked_out(fitted, evidence, followed)
    return ready


def _worked_out(
    fitted: learning.Calibration, evidence: Evidence, followed: NDArray[np.bool_]
) -> dict[str, Any]:
    chances, shift = foreseen(fitted.posterior, evidence)
    low, high = shift.interval
    return {
        "stated": round(float(chances[:, 2].mean()), 2),
        "achieved": round(float((evidence.score == 0).mean()), 2),
        "shift": round(shift.mean, 2),
        "shift_low": round(low, 2),
        "shift_high": round(high, 2),
        "drift": shift.drifted,
        "table": _table(chances, evidence, followed),
        "withheld": None,
        "text": _in_words(shift),
    }


def _table(
    chances: Column, evidence: Evidence, followed: NDArray[np.bool_]
) -> list[dict[str, Any]]:
    """Return the bands of all reports, or of those that followed the calibration and the others."""
    fewest = min(people(evidence.reporter, part) for part in (followed, ~followed))
    if fewest < learning.FEWEST_REPORTERS_SHOWN:
        return [{"followed": None, **_rounded(band)} for band in bands(chances, evidence)]
    return [
        {"followed": part, **_rounded(band)}
        for part, rows in ((True, followed), (False, ~followed))
        for band in bands(chances[rows], evidence.only(rows))
    ]


def _rounded(band: Band) -> dict[str, Any]:
    found = asdict(band)
    return found | {name: round(found[name], 2) for name in ("stated", "achieved")}


def _in_words(shift: Shift) -> str:
    low, high = shift.interval
    told = f"Heels scored {shift.mean:+.2f} from what was stated ({low:+.2f} to {high:+.2f})"
    if not shift.drifted:
        return f"{told}, which chance explains."
    way = "deeper" if shift.mean > 0 else "shallower"
    return f"{told}: {way} than chance explains. Look at what has changed, and calibrate again."
