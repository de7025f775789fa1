"""What a group knows, as its page shows it: every figure is the card's or the outcomes'."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from sqlalchemy.orm import Session

from models.actions.activations import active
from models.actions.actor import Actor
from models.actions.cards import read_card
from models.actions.own_socks import own_socks
from models.actions.timeline import timeline
from models.domain.yarn import YARN_WEIGHTS
from models.learning.calibration import Calibration
from service.drawings.agreement import Agreement, agreement
from service.drawings.coverage import Coverage, coverage
from service.drawings.scores import Scores, scores
from service.results import result

Figures = Mapping[str, Any]

KINDS = ("yarn_weight", "foot_length_mm", "foot_circumference_mm")


@dataclass(frozen=True)
class Learned:
    """All that is shown: the card and outcomes of what answers, if a calibration does.

    `own` are the reader's socks, `history` the latest calibrations, newest first.
    """

    fitted: Calibration
    card: Figures | None
    outcomes: Figures | None
    own: list[dict[str, float]]
    history: list[dict[str, Any]]

    @cached_property
    def sections(self) -> dict[str, Figures]:
        """The sections of the card by their keys; none where they are withheld."""
        return {one["key"]: one for one in (self.card or {}).get("sections", [])}

    @property
    def withheld(self) -> str | None:
        """Why there are no figures, where a calibration answers and shows none."""
        return None if self.card is None else self.card["withheld"]

    @cached_property
    def groups(self) -> list[Figures]:
        """The rows of scores by depth."""
        return self._rows("scores_by_depth")

    @property
    def scores(self) -> Scores | None:
        """The picture of scores by depth, where there is anything to draw."""
        if not self.groups and not self.own:
            return None
        return scores(self.groups, self._rows("expected_scores"), self.own)

    @property
    def coverage(self) -> Iterator[tuple[Figures, Coverage]]:
        """The people behind each kind of sock: sections of the card with their pictures."""
        for kind in KINDS:
            section = self.sections.get(f"reports_by_{kind}")
            if section is not None and section["rows"]:
                yield section, coverage(section["rows"])

    @property
    def yarns_without(self) -> list[str]:
        """The yarn weights that too few people have reported on to be told of by themselves."""
        told = {row["label"] for row in self._rows("reports_by_yarn_weight")}
        every = (f"{weight.number} {weight.name}" for weight in YARN_WEIGHTS)
        return [label for label in every if label not in told]

    @property
    def foreseen(self) -> Agreement:
        """The picture of the card's reliability: people who were left out of the calibration."""
        rows = self._rows("reliability")
        return agreement((row["second"], row["value"], row["reports"]) for row in rows)

    @property
    def came(self) -> Agreement:
        """The picture of what was stated and what came since."""
        rows = (self.outcomes or {}).get("table", [])
        return agreement((row["stated"], row["achieved"], row["reports"]) for row in rows)

    def _rows(self, key: str) -> list[Figures]:
        return list(self.sections[key]["rows"]) if key in self.sections else []


def learned(session: Session, actor: Actor) -> Learned:
    """Return what the actor's group knows, as far as the actor may see it."""
    calibration_id, fitted = active(session, actor.group_id)
    card = came = None
    if calibration_id is not None:
        card = read_card(session, actor, calibration_id)
        came = result(actor, "outcomes", calibration_id=calibration_id)
    return Learned(fitted, card, came, own_socks(session, actor), timeline(session, actor))
