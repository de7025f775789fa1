"""The sections of a card: titles, sentences and tables, from stored figures and nothing else."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from models.actions.card_words import (
    BEYOND,
    COLUMN_WORDS,
    asked_for,
    band_of,
    size_of,
    wanted,
)
from models.domain.wording import counted
from models.learning.slices import label

Figures = Mapping[str, Any]

FIELDS = (
    "label",
    "at",
    "value",
    "second",
    "low",
    "high",
    "standard_error",
    "reports",
    "people",
)
"""What a row of a table has; null where it does not apply."""

_COUNTED = {"reports": "reports", "people": "people"}
_RANGE = {"low": "80 % range from", "high": "to"}
_ERROR = {"standard_error": "standard error"}


def sections_of(
    diagnostics: Figures, before: tuple[int, Figures] | None, names: Mapping[str, str] | None
) -> list[dict[str, Any]]:
    """Return the sections of a card.

    Parameters
    ----------
    diagnostics : mapping
        As stored with the calibration, with figures.
    before : None or (int, mapping)
        Number and diagnostics of the calibration before.
    names : None or mapping
        Names of members by id, for stewards; others do not see who has an unusual offset.

    """
    figures = diagnostics["figures"]
    found = [
        *_counts(figures),
        _effects(figures),
        _reference(figures),
        *_depths(figures),
        _reliability(figures),
        _coverage(figures),
        *_residuals(figures),
        _comparison(diagnostics),
        _unusual(figures, names),
    ]
    return found if before is None else [*found, _changes(figures, *before)]


def section(
    key: str,
    title: str,
    sentences: Sequence[str],
    columns: Mapping[str, str],
    rows: Sequence[Mapping[str, Any]],
) -> dict[str, Any]:
    """Return a section: its rows have all of `FIELDS`."""
    filled = [{**dict.fromkeys(FIELDS), **row} for row in rows]
    return {
        "key": key,
        "title": title,
        "sentences": list(sentences),
        "columns": dict(columns),
        "rows": filled,
    }


def _counts(figures: Figures) -> Iterator[dict[str, Any]]:
    for kind, cells in figures["counts"].items():
        yield section(f"reports_by_{kind}", f"Reports by {COLUMN_WORDS[kind]}", [], _COUNTED, cells)


def _effects(figures: Figures) -> dict[str, Any]:
    rows = [_effect_row(effect) for effect in figures["effects"]]
    said = [asked_for(effect) for effect in figures["effects"]]
    heading = {"value": "more slow-decrease rounds", **_RANGE}
    return section("effects", "What was learned, in slow-decrease rounds", said, heading, rows)


def _reference(figures: Figures) -> dict[str, Any]:
    effects = figures["reference_rounds"]
    heading = {"value": "slow-decrease rounds wanted", **_RANGE}
    return section(
        "reference_feet",
        "Three feet as examples",
        [wanted(effect) for effect in effects],
        heading,
        [_effect_row(effect) for effect in effects],
    )


def _effect_row(effect: Figures) -> dict[str, Any]:
    return {
        "label": effect["subject"],
        "value": effect["rounds"],
        "low": effect["low"],
        "high": effect["high"],
    }


def _depths(figures: Figures) -> Iterator[dict[str, Any]]:
    """Yield scores by depth, reported and expected; older calibrations have stored none."""
    if "slices" not in figures:
        return
    reported = [
        {
            "label": label(one["number"]),
            "at": one["excess_mm"],
            "value": one["reported"],
            "second": one["foreseen"],
            "standard_error": one["standard_error"],
        }
        for one in figures["slices"]
    ]
    heading = {"at": BEYOND, "value": "mean score", "second": "foreseen", **_ERROR}
    yield section("scores_by_depth", "Scores by depth", [_SLICED], heading, reported)
    expected = [
        {
            "label": f"{one['excess_mm']:+g} mm",
            "at": one["excess_mm"],
            "value": one["expected"],
            "low": one["low"],
            "high": one["high"],
        }
        for one in figures["curve"]
    ]
    heading = {"at": BEYOND, "value": "expected score", **_RANGE}
    yield section("expected_scores", "Expected scores by depth", [_CURVED], heading, expected)


_SLICED = (
    "Socks are taken together by how much deeper than the geometry's ideal they are, ten people or "
    "more at a time. Such a slice is renewed when ten people's reports in it are others."
)
_CURVED = "Expected of socks like these of somebody new, were only the depth another."


def _reliability(figures: Figures) -> dict[str, Any]:
    size = figures["compared"]
    rows = [
        _sized(row) | {"value": row["reported"], "second": row["stated"]}
        for row in figures["reliability"]
    ]
    said = (
        f"Judged by {counted(size['reports'], 'report')} of {size['people']} people who were left "
        "out while it was calibrated: of the socks whose chance was stated so high, that many were "
        "reported just right."
    )
    heading = {"value": "share just right", "second": "mean chance stated", **_COUNTED}
    return section("reliability", "Stated and reached chances", [said], heading, rows)


def _coverage(figures: Figures) -> dict[str, Any]:
    found = figures["coverage"]
    said = f"The central 80 % of what was foreseen held {found['mean']:.0%} of the scores."
    row = {"label": "central 80 %", "value": found["mean"]}
    row["standard_error"] = found["standard_error"]
    return section("coverage", "Coverage", [said], {"value": "share held", **_ERROR}, [row])


def _residuals(figures: Figures) -> Iterator[dict[str, Any]]:
    heading = {"value": "score above what was expected", **_ERROR, **_COUNTED}
    for kind, cells in figures["residuals"].items():
        rows = [
            _sized(cell) | {"value": cell["mean"], "standard_error": cell["standard_error"]}
            for cell in cells
        ]
        title = f"Scores above expectation by {COLUMN_WORDS[kind]}"
        yield section(f"residuals_by_{kind}", title, [], heading, rows)


def _comparison(diagnostics: Figures) -> dict[str, Any]:
    rows = [
        {
            "label": band_of(gap),
            "value": gap["value"],
            "standard_error": gap["standard_error"],
            "reports": gap["reports"],
            "people": gap["people"],
        }
        for gap in diagnostics["gaps"]
    ]
    heading = {"value": "better by", **_ERROR, **_COUNTED}
    verdict = f"Verdict: {diagnostics['verdict']}."
    return section(
        "comparison",
        "Compared with what answered before",
        [verdict, *diagnostics["reasons"]],
        heading,
        rows,
    )


def _unusual(figures: Figures, names: Mapping[str, str] | None) -> dict[str, Any]:
    said = (
        f"{counted(figures['unusual'], 'reporter')} with an offset of more than 2 sds, or more "
        "likely than not to answer unlike all others."
    )
    rows = (
        []
        if names is None
        else [
            {
                "label": names[one["member_id"]],
                "value": one["offset_sds"],
                "second": one["doubt"],
                "reports": one["reports"],
            }
            for one in figures["unusual_reporters"]
        ]
    )
    heading = {"value": "offset in sds", "second": "chance of answering unlike others"}
    return section("unusual_offsets", "Unusual offsets", [said], heading, rows)


def _changes(figures: Figures, number: int, before: Figures) -> dict[str, Any]:
    """Return what is now beside what was; null where something was too rare to be shown."""
    now, then = _all_of(figures), _all_of(before["figures"])
    rows = [
        {"label": name, "value": now.get(name), "second": then.get(name)}
        for name in dict.fromkeys([*now, *then])
    ]
    told = f"Beside calibration {number}, the last one before with a card."
    heading = {"value": "now", "second": "before"}
    return section("changes", "What changed", [told], heading, rows)


def _all_of(figures: Figures) -> dict[str, float]:
    """Return counts, effects in rounds and the rounds for reference feet, by label."""
    effects = [*figures["effects"], *figures["reference_rounds"]]
    return size_of(figures) | {one["subject"]: one["rounds"] for one in effects}


def _sized(row: Figures) -> dict[str, Any]:
    return {name: row[name] for name in ("label", "reports", "people")}
