"""What is exported and imported again is the same, byte for byte. All reports are invented."""

from __future__ import annotations

import csv
import io
import unicodedata
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.actions.group_names import GroupNames, Named
from models.actions.reports import record_report
from models.domain.reports import AFTERWARDS, LONGEST, SOCK
from models.domain.texts import stored_text

ODD = ("Cc", "Cs", "Cf", "Zl", "Zp", "Co", "Cn")
"""Categories of characters that no name has."""

AWKWARD = st.sampled_from(["=1+1", "+1", "-1", "@x", "'=1", "''", "'", '"', ";", ",", "\t,", "nan"])


def texts(longest: int, *, lines: bool = False) -> st.SearchStrategy[str]:
    """Return texts as the service stores them: composed, trimmed, nothing unseen in one line."""
    letters = st.characters(exclude_categories=ODD, include_characters="\n" * lines)
    made = st.builds(str.__add__, AWKWARD | st.just(""), st.text(letters, max_size=longest))
    stored = made.map(lambda text: unicodedata.normalize("NFC", text).strip()[:longest].strip())
    allowed = "\n\t" if lines else ""
    return stored.filter(
        lambda text: text and all(unicodedata.category(c) != "Cc" or c in allowed for c in text)
    ).filter(lambda text: lines or stored_text(text, longest) == text)


NUMBERS = {
    quantity.name: (
        st.integers(int(quantity.low), int(quantity.high))
        if quantity.integer
        else st.floats(quantity.low, quantity.high)
    )
    for quantity in (*SOCK, *AFTERWARDS)
}
COUNTS = dict.fromkeys(("slow", "medium", "fast"), st.integers(0, 4))
REPORTS = st.fixed_dictionaries(
    {
        "reporter": texts(LONGEST["reporter"]),
        "foot": st.fixed_dictionaries(
            {
                "foot_length_mm": st.floats(240, 260),
                "foot_circumference_mm": st.floats(225, 245),
            },
            optional={"heel_diagonal_mm": st.floats(305, 330)},
        ),
        **{name: NUMBERS[name] for name in ("yarn_weight", "fit_score")},
        **{name: NUMBERS[name] for name in ("stitches_per_10cm", "rounds_per_10cm")},
        "heel_stitches": st.integers(52, 400),
        "plain_rounds": st.integers(1, 6),
        **{f"{key}_decrease_rounds": count for key, count in COUNTS.items()},
    },
    optional={
        "notes": texts(LONGEST["notes"], lines=True),
        "design": texts(LONGEST["design"]),
        "knitted_on": st.dates(date(1, 1, 1), date(2025, 1, 1)),
        "decreases_per_round": st.integers(2, 4),
        **{quantity.name: NUMBERS[quantity.name] for quantity in AFTERWARDS},
    },
)


@given(st.lists(REPORTS, min_size=1, max_size=6), st.sampled_from(["\n", "\r\n"]))
@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_an_export_taken_in_by_an_empty_group_is_exported_the_same(founding, told, end) -> None:
    one, two = founding(), founding()
    group = GroupNames()
    for report in told:
        if group.same(report["reporter"]) is None and group.look_alike(report["reporter"]) is None:
            group.add(Named("", report["reporter"], None))
    told = [report for report in told if group.same(report["reporter"]) is not None]
    with one.database.write.begin() as session:
        for report in told:
            record_report(session, one.steward, report)
    exported = one.export()
    assert two.take(exported.replace("\n", end)).used == len(told)
    assert two.export() == exported


def test_no_text_cell_of_an_export_can_run_as_a_formula(pool) -> None:
    awkward = ["=1+1", "+1", "-1", "@x", "'=1", "\t=1", "-2 far", "==", "'"]
    rows = [{"reporter": f"{text} r".strip(), "notes": text, "design": text} for text in awkward]
    with pool.database.write.begin() as session:
        for row in rows:
            foot = {"foot_length_mm": 250, "foot_circumference_mm": 230}
            sock = {k: v for k, v in pool.sheets.sound.items() if not k.endswith("_mm")}
            record_report(session, pool.steward, {**sock, **row, "foot": foot})
    exported = list(csv.DictReader(io.StringIO(pool.export())))
    texts_out = [row[name] for row in exported for name in ("reporter", "notes", "design")]
    assert len(texts_out) == 27
    assert not [text for text in texts_out if text.startswith(("=", "+", "-", "@", "\t", "\r"))]


@pytest.mark.parametrize("score", [-2, -1])
def test_negative_numbers_stay_numbers(pool, score: int) -> None:
    pool.take(pool.sheets.of({"fit_score": score}))
    (row,) = csv.DictReader(io.StringIO(pool.export()))
    assert row["fit_score"] == str(score)
