"""A card says what the database says: every figure is worked out again from the rows by plain code.

The second derivation uses pandas for what is counted and averaged, the stored calibration's own
suggestions for what was learned, and scikit-learn's folds for who was left out.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
import pytest
from sklearn.model_selection import GroupKFold

from models.actions import calibrations, judging
from models.actions.actor import Actor
from models.actions.card_sections import FIELDS, sections_of
from models.actions.cards import NOT_STORED, read_card
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.roles import Role
from models.learning.calibration import Calibration as Fitted
from models.learning.calibration import calibrate
from models.learning.estimator import fit, prior
from models.learning.evidence import COLUMNS, Evidence
from models.learning.knitters_units import effects
from models.learning.predictive import score_chances
from models.tables.learned import Calibration
from models.tables.people import Member
from models.tables.socks import Foot, Report

SHOWN = ("effects", "reference_feet", "scores_by_depth")
KINDS = ("yarn_weight", "foot_length_mm", "foot_circumference_mm")
REPORTERS = 40


@pytest.fixture
def told(socks):
    """Return reports in which deeper socks were felt as deeper, one reporter's the other way."""

    def made(number: int) -> list[dict]:
        rows = [
            {**sock, "fit_score": min(max(sock["slow_decrease_rounds"] - 3 + n % 2, -2), 2)}
            for n, sock in enumerate(socks(number, REPORTERS))
        ]
        contrary = [{**row, "reporter": "Invented contrary", "fit_score": 2} for row in rows[:25]]
        return rows + contrary

    return made


def kept(pool) -> Calibration:
    with pool.database.read() as session:
        judged = judging.calibrated(session, pool.steward)
    with pool.database.write.begin() as session:
        return calibrations.keep_calibration(session, pool.steward, judged)


def card(pool, row: Calibration, actor: Actor | None = None) -> dict[str, Any]:
    with pool.database.read() as session:
        return read_card(session, actor or pool.steward, row.id)


def section(shown: dict[str, Any], key: str) -> dict[str, Any]:
    return next(one for one in shown["sections"] if one["key"] == key)


def frame(pool) -> pd.DataFrame:
    """Return the group's reports as the tables have them, sorted as evidence is."""
    feet = {foot.id: foot for foot in pool.rows(Foot)}
    rows = [
        {
            "member_id": row.member_id,
            **{
                name: getattr(feet[row.foot_id] if name in MEASUREMENT_NAMES else row, name)
                for name in COLUMNS
            },
        }
        for row in pool.rows(Report)
    ]
    table = pd.DataFrame(rows).astype(dict.fromkeys(COLUMNS, float))
    return table.sort_values(list(COLUMNS), ignore_index=True, na_position="last")


def evidence_of(table: pd.DataFrame) -> Evidence:
    codes = pd.factorize(table.member_id)[0].astype(np.int64)
    return Evidence.of({name: table[name].to_numpy() for name in COLUMNS}, codes)


@pytest.fixture
def calibrated(pool, told):
    """Return a pool with two calibrations, its second card and its evidence worked out again."""
    pool.take(pool.sheets.of(*told(120)))
    kept(pool)
    pool.take(pool.sheets.of(*told(200)))
    row = kept(pool)
    table = frame(pool)
    return pool, row, card(pool, row), table, evidence_of(table)


def held_out(evidence: Evidence) -> np.ndarray:
    """Return the chances (n, 5) that calibrations without a reporter's fold gave its reports."""
    chances = np.empty((evidence.reports, 5))
    folds = GroupKFold(5).split(evidence.reporter, groups=evidence.reporter)
    for known, asked in folds:
        one, other = (
            Evidence({k: v[rows] for k, v in evidence.columns.items()}, evidence.reporter[rows])
            for rows in (known, asked)
        )
        chances[asked] = score_chances(fit(one), other)
    return chances


def grouped(evidence: Evidence, kind: str, **more: np.ndarray) -> Iterator[tuple[str, Any]]:
    """Yield each cell of a kind that ten people or more stand behind, by its label's start."""
    table = pd.DataFrame({**evidence.columns, **more, "who": evidence.reporter})
    width = 1 if kind == "yarn_weight" else 20
    for low, group in table.groupby((table[kind] // width * width).astype(int)):
        if group.who.nunique() >= 10:
            yield str(low), group


def test_the_card_counts_what_the_rows_count(calibrated) -> None:
    _, row, shown, table, evidence = calibrated
    assert (shown["reports"], shown["reporters"]) == (len(table), table.member_id.nunique())
    assert shown["fingerprint"] == row.fingerprint == evidence.fingerprint()
    for kind in KINDS:
        rows = section(shown, f"reports_by_{kind}")["rows"]
        found = {one["label"].split()[0]: (one["reports"], one["people"]) for one in rows}
        assert sum(reports for reports, _ in found.values()) == len(table)
        for low, group in grouped(evidence, kind):
            if low in found:
                assert found[low] == (len(group), group.who.nunique())
        assert len(found) >= 2


def test_the_card_s_effects_are_those_of_a_calibration_made_anew(calibrated) -> None:
    _, row, shown, _, evidence = calibrated
    anew = calibrate(evidence)
    stored = Fitted.from_json(row.artefact)
    assert np.array_equal(stored.posterior.mean, anew.posterior.mean)
    rows = {one["label"]: one for one in section(shown, "effects")["rows"]}
    for effect in effects(anew.posterior, anew.seen.yarn_weights):
        one = rows.pop(effect.subject)
        assert (one["value"], one["low"], one["high"]) == (effect.rounds, effect.low, effect.high)
        sentences = " ".join(section(shown, "effects")["sentences"])
        assert f"{abs(effect.rounds):.1f}" in sentences
    assert rows == {}


def test_the_card_s_reliability_coverage_and_residuals_are_those_of_people_left_out(
    calibrated,
) -> None:
    _, _, shown, _, evidence = calibrated
    chances = held_out(evidence)
    right = (evidence.score == 0).astype(float)
    table = pd.DataFrame({"stated": chances[:, 2], "right": right, "who": evidence.reporter})
    for one in section(shown, "reliability")["rows"]:
        if one["label"] != "other":
            low = int(one["label"].split()[0]) / 100
            group = table[(table.stated >= low) & (table.stated < low + 0.1)]
            assert one["value"] == pytest.approx(group.right.mean())
            assert one["second"] == pytest.approx(group.stated.mean())
            assert (one["reports"], one["people"]) == (len(group), group.who.nunique())
    expected = chances @ np.arange(-2, 3)
    for kind in KINDS:
        rows = section(shown, f"residuals_by_{kind}")["rows"]
        found = {one["label"].split()[0]: one["value"] for one in rows}
        for low, group in grouped(evidence, kind, residual=evidence.score - expected):
            if low in found:
                assert found[low] == pytest.approx(group.residual.mean())
    (one,) = section(shown, "coverage")["rows"]
    assert one["value"] == pytest.approx(np.mean(list(_inside(chances, evidence.score))))


def _inside(chances: np.ndarray, score: np.ndarray) -> Iterator[float]:
    """Yield the share of each score's stretch of the transform that lies between .1 and .9."""
    for row, category in zip(chances, (score + 2).astype(int), strict=True):
        low, high = row[:category].sum(), row[: category + 1].sum()
        yield max(0.0, min(high, 0.9) - max(low, 0.1)) / (high - low)


def test_the_card_s_gap_to_geometry_is_that_of_the_log_chances(calibrated) -> None:
    """One reporter has more than a twentieth of this pool, and weighs a twentieth."""
    _, _, shown, table, evidence = calibrated
    counts = pd.Series(evidence.reporter).value_counts()
    cap = (len(table) - counts.max()) / 20 / (1 - 1 / 20)
    assert counts.iloc[1] < cap < counts.iloc[0]
    weight = pd.Series(evidence.reporter).map(counts.clip(upper=cap) / counts)
    place, rows = (evidence.score + 2).astype(int), np.arange(evidence.reports)
    mine, theirs = held_out(evidence), score_chances(prior(), evidence)
    gained = np.log(mine[rows, place]) - np.log(theirs[rows, place])
    label = "log score, against geometry alone, all reports"
    (one,) = (r for r in section(shown, "comparison")["rows"] if r["label"] == label)
    assert one["value"] == pytest.approx(np.average(gained, weights=weight))
    assert (one["reports"], one["people"]) == (len(table), table.member_id.nunique())


def test_what_changed_is_the_difference_of_two_stored_cards(calibrated) -> None:
    pool, _, shown, _, _ = calibrated
    first, second = sorted(pool.rows(Calibration), key=lambda row: row.number)
    changes = {one["label"]: one for one in section(shown, "changes")["rows"]}
    assert "calibration 1" in section(shown, "changes")["sentences"][0]
    for name in ("effects", "reference_rounds"):
        for side, row in (("second", first), ("value", second)):
            for one in row.diagnostics["figures"][name]:
                if one["subject"] in changes:
                    assert changes[one["subject"]][side] == one["rounds"]
    assert any(one["second"] is None for one in changes.values())  # too few people before
    assert all(section_["key"] != "changes" for section_ in card(pool, first)["sections"])


def test_only_stewards_see_who_has_an_unusual_offset(calibrated) -> None:
    pool, _, shown, _, _ = calibrated
    row = max(pool.rows(Calibration), key=lambda one: one.number)
    names = {member.id: member.name for member in pool.rows(Member)}
    found = row.diagnostics["figures"]["unusual_reporters"]
    labels = [one["label"] for one in section(shown, "unusual_offsets")["rows"]]
    assert labels == [names[one["member_id"]] for one in found]
    assert "Invented contrary" in labels
    other = card(pool, row, somebody(pool, Role.DESIGNER))
    assert section(other, "unusual_offsets")["rows"] == []
    said = section(shown, "unusual_offsets")["sentences"]
    assert section(other, "unusual_offsets")["sentences"] == said
    for role in (Role.KNITTER, Role.DESIGNER):
        other = card(pool, row, somebody(pool, role))
        assert not any(name in repr(other) for name in names.values())
        assert not any(member_id in repr(other) for member_id in names)


def somebody(pool, role: Role) -> Actor:
    return Actor(pool.group_id, role, pool.steward.member_id, "Invented")


def test_who_does_not_calibrate_sees_whole_rounds_and_scores_and_no_other_figure(
    calibrated,
) -> None:
    pool, row, shown, _, _ = calibrated
    other = card(pool, row, somebody(pool, Role.KNITTER))
    assert [one["key"] for one in other["sections"]] == list(SHOWN)
    assert other["fingerprint"] is None
    exact = {one["label"]: one["value"] for key in SHOWN for one in section(shown, key)["rows"]}
    rows = [one for key in SHOWN for one in section(other, key)["rows"]]
    assert len(rows) == 6 + len(section(shown, "scores_by_depth")["rows"]) > 6
    for one in rows:
        assert one["value"] == round(exact[one["label"]])
        assert {one[name] for name in FIELDS if name not in ("label", "at", "value")} == {None}
    middles = {one["at"] for one in section(other, "scores_by_depth")["rows"]}
    assert middles <= {2.5 + 5 * n for n in range(-5, 5)}, "no mean depth of the socks in a slice"
    said = " ".join(sentence for one in other["sections"] for sentence in one["sentences"])
    assert not re.search(r"\d\.\d", said), "10 mm and whole rounds are all the figures there are"
    assert not any(re.search(r"\d\.\d", reason) for reason in other["reasons"])
    assert any(re.search(r"\d\.\d", reason) for reason in shown["reasons"])


def test_a_calibration_s_coefficients_are_for_those_who_calibrate(calibrated) -> None:
    pool, row, _, _, _ = calibrated
    with pool.database.read() as session:
        told = {
            role: calibrations.read_calibration(session, somebody(pool, role), row.id)
            for role in Role
        }
    for role in (Role.DESIGNER, Role.STEWARD):
        assert told[role]["coefficients"], "they judge what they let answer"
        assert told[role]["withheld"] is None
    hidden = ("coefficients", "noise_variance", "fingerprint")
    assert {name: told[Role.KNITTER][name] for name in hidden} == dict.fromkeys(hidden)
    assert "designers and stewards" in told[Role.KNITTER]["withheld"]


def leaves(stored: Any, path: tuple = ()) -> Iterator[tuple]:
    if isinstance(stored, dict):
        for name, inner in stored.items():
            yield from leaves(inner, (*path, name))
    elif isinstance(stored, list):
        for place, inner in enumerate(stored):
            yield from leaves(inner, (*path, place))
    else:
        yield path


# The number a reporter had in the evidence is stored beside the member; only the member is shown.
# Whose reports a slice holds is stored with it, to judge later whether it may be renewed.
NOT_SHOWN = {"as_of", "reporter"}


def test_every_stored_figure_is_on_the_card_for_changing_it_changes_the_card(calibrated) -> None:
    pool, row, _, _, _ = calibrated
    names = {member.id: member.name for member in pool.rows(Member)}
    names["another"] = "Invented other"
    before = sections_of(row.diagnostics, None, names)
    changed = 0
    for path in leaves(row.diagnostics):
        other = copy.deepcopy(row.diagnostics)
        place = other
        for step in path[:-1]:
            place = place[step]
        # Where all socks are compared there is no band, and what it would be of does not matter.
        unbanded = path[-1] == "kind" and place["band"] is None
        if path[-1] in NOT_SHOWN or "people" in path[:-1] or unbanded:
            continue
        place[path[-1]] = _another(place[path[-1]], path)
        assert sections_of(other, None, names) != before, path
        changed += 1
    assert changed > 200


def _another(value: Any, path: tuple) -> Any:
    if path[-1] == "member_id":
        return "another"
    if path[-1] == "subject":
        return {"yarn_weight_0": "yarn_weight_7"}.get(value, "yarn_weight_0")
    if path[-1] == "kind":
        return "foot_length_mm" if value != "foot_length_mm" else "yarn_weight"
    return "another" if value is None or isinstance(value, str) else value + 1


def test_a_calibration_from_before_there_were_cards_says_so(calibrated) -> None:
    pool, row, _, _, _ = calibrated
    with pool.database.write.begin() as session:
        session.get_one(Calibration, row.id).diagnostics = None
    shown = card(pool, row)
    assert (shown["withheld"], shown["sections"]) == (NOT_STORED, [])
    assert shown["reasons"][0].startswith("not worse than")
