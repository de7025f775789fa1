"""What a card says in words of the figures it shows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from models.domain.wording import counted
from models.domain.yarn import YARN_WEIGHTS
from models.learning.knitters_units import LONGER_MM

Figures = Mapping[str, Any]

COLUMN_WORDS = {
    "yarn_weight": "yarn weight",
    "foot_length_mm": "foot length",
    "foot_circumference_mm": "foot circumference",
}

BEYOND = "mm beyond the geometry's ideal"

_YARN = "yarn_weight_"
_NAMES = {str(weight.number): weight.name for weight in YARN_WEIGHTS}


def asked_for(effect: Figures) -> str:
    """Return the sentence of one effect.

    >>> asked_for({"subject": "heel_diagonal_mm", "rounds": 0.63, "low": 0.41, "high": 0.8})
    'a heel diagonal 10 mm longer asks for 0.6 (0.4 to 0.8) more slow-decrease rounds'
    >>> asked_for({"subject": "yarn_weight_2", "rounds": -0.3, "low": -0.5, "high": 0.1})
    'yarn weight 2 (fine) asks for 0.3 (-0.1 to 0.5) fewer slow-decrease rounds than the mean of \
these yarn weights'
    """
    subject = effect["subject"]
    than = " than the mean of these yarn weights" if subject.startswith(_YARN) else ""
    who = _subject(subject)
    if effect["low"] is None:
        return f"the reports do not establish what {who} asks for"
    less = effect["rounds"] < 0
    ends = (effect["low"], effect["high"])
    low, high = sorted(-end for end in ends) if less else ends
    return (
        f"{who} asks for {_tenths(abs(effect['rounds']))} ({_tenths(low)} to {_tenths(high)}) "
        f"{'fewer' if less else 'more'} slow-decrease rounds{than}"
    )


def wanted(effect: Figures) -> str:
    """Return the sentence of a reference foot."""
    foot = (
        f"for a foot of {effect['subject']}"
        if "mean" in effect["subject"]
        else (f"for a foot {effect['subject']} in everything")
    )
    if effect["low"] is None:
        return f"{foot} the reports do not establish a number of slow-decrease rounds"
    ends = f"{_tenths(effect['low'])} to {_tenths(effect['high'])}"
    return f"{foot} {_tenths(effect['rounds'])} ({ends}) slow-decrease rounds are wanted"


def about_asked_for(effect: Figures) -> str:
    """Return the sentence of one effect in whole rounds.

    >>> about_asked_for({"subject": "heel_diagonal_mm", "rounds": 0.63, "low": 0.41, "high": 0.8})
    'a heel diagonal 10 mm longer asks for about 1 slow-decrease round more'
    >>> about_asked_for({"subject": "foot_length_mm", "rounds": -0.3, "low": -0.5, "high": 0.1})
    'a foot length 10 mm longer asks for about as many slow-decrease rounds'
    """
    whole, who = round(effect["rounds"]), _subject(effect["subject"])
    if effect["low"] is None:
        return asked_for(effect)
    if whole == 0:
        return f"{who} asks for about as many slow-decrease rounds"
    less_or_more = "fewer" if whole < 0 else "more"
    return f"{who} asks for about {counted(abs(whole), 'slow-decrease round')} {less_or_more}"


def about_wanted(effect: Figures) -> str:
    """Return the sentence of a reference foot in whole rounds."""
    if effect["low"] is None:
        return wanted(effect)
    rounds = counted(round(effect["rounds"]), "slow-decrease round")
    return f"for a foot of {effect['subject']} about {rounds} are wanted"


def is_of_yarn(effect: Figures) -> bool:
    """Return whether an effect is that of a yarn weight."""
    return bool(effect["subject"].startswith(_YARN))


def band_of(gap: Figures) -> str:
    """Return what a gap compares, where, with whom and by which measure."""
    kind = COLUMN_WORDS.get(gap["kind"], "")
    band = "" if gap["band"] is None else f", {kind} {gap['band']}"
    return f"{gap['measure']}, against {gap['against']}, {gap['scope']}{band}"


def size_of(figures: Figures) -> dict[str, float]:
    """Return how many reports of which kinds figures rest on, by what they are called."""
    return {
        f"{COLUMN_WORDS[kind]} {cell['label']}, reports": cell["reports"]
        for kind, cells in figures["counts"].items()
        for cell in cells
    }


def _subject(subject: str) -> str:
    if subject.startswith(_YARN):
        number = subject.removeprefix(_YARN)
        return f"yarn weight {number} ({_NAMES[number]})"
    if not subject.endswith("_mm"):
        return "one stitch more in 10 cm, on as many stitches,"
    name = subject.removesuffix("_mm").replace("_", " ")
    article = "an" if name[0] in "aeiou" else "a"
    bigger = "larger" if name.endswith("circumference") else "longer"
    return f"{article} {name} {LONGER_MM:.0f} mm {bigger}"


def _tenths(value: float) -> str:
    return f"{round(value, 1) + 0.0:.1f}"
