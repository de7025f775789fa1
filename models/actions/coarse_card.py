"""The card as everybody in a group sees it: what was learned, in whole rounds and whole scores.

Exact figures tell more than they say. Whoever knows all that somebody reported, and the people a
group is drawn from, can guess from them whether that somebody is in the group; the fewer the
figures and the coarser, the worse the guess (`.bench/membership.py`). So exact ones are for those
who calibrate and must judge what they let answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from models.actions.card_sections import section
from models.actions.card_words import BEYOND, about_asked_for, about_wanted, is_of_yarn
from models.learning.slices import label, middle_mm

Figures = Mapping[str, Any]

FOR_THOSE_WHO_CALIBRATE = (
    "exact figures are for designers and stewards: together they would tell who is among the "
    "reporters"
)

_MIDDLE_FOOT = "mean"
_SLICED = (
    "Socks are taken together by how much deeper than the geometry's ideal they are, ten people or "
    "more at a time; their mean score is rounded to a whole one."
)


def coarse_sections(figures: Figures) -> list[dict[str, Any]]:
    """Return the sections of a card for those who do not calibrate."""
    moved = [one for one in figures["effects"] if not is_of_yarn(one)]
    feet = [one for one in figures["reference_rounds"] if _MIDDLE_FOOT in one["subject"]]
    heading = "about as many more slow-decrease rounds"
    return [
        section(
            "effects",
            "What was learned, in whole slow-decrease rounds",
            [about_asked_for(one) for one in moved],
            {"value": heading},
            _rows(moved),
        ),
        section(
            "reference_feet",
            "A foot as example",
            [about_wanted(one) for one in feet],
            {"value": "slow-decrease rounds wanted, about"},
            _rows(feet),
        ),
        section(
            "scores_by_depth",
            "Scores by depth, in whole scores",
            [_SLICED],
            {"at": BEYOND, "value": "mean score, about"},
            [_dot(one) for one in figures.get("slices", [])],
        ),
    ]


def without_figures(reasons: Sequence[str]) -> list[str]:
    """Return the reasons why a calibration answers or waits that state no figures."""
    plain = [reason for reason in reasons if "standard error" not in reason]
    return plain if plain or not reasons else ["it compares worse"]


def _rows(effects: Sequence[Figures]) -> list[dict[str, Any]]:
    return [{"label": one["subject"], "value": _whole(one)} for one in effects]


def _dot(one: Figures) -> dict[str, Any]:
    """Return a slice by its middle, which does not move with the socks in it, and a whole score."""
    return {
        "label": label(one["number"]),
        "at": middle_mm(one["number"]),
        "value": round(one["reported"]),
    }


def _whole(effect: Figures) -> int | None:
    """Return whole rounds, None where the reports do not establish them."""
    return None if effect["low"] is None else round(effect["rounds"])
