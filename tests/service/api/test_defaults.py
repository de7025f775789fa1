"""Defaults, adoptions, effects, plans and tables over HTTP. Everything in them is invented."""

from __future__ import annotations

import csv
import io
from itertools import pairwise
from typing import Any

import pytest
from openpyxl import load_workbook

from models.tables.learned import Calibration
from models.tables.people import Member

LABELS = ("S", "M", "L")


class Designed:
    """A design of three sizes, seen by a steward."""

    def __init__(self, world: Any, name: str = "Invented crake heel") -> None:
        self.world, self.steward = world, world.mine.steward
        self.name = name
        self.path = f"/designs/{self.steward.make('/designs', {'name': name})['id']}"
        for number, label in enumerate(LABELS):
            self.steward.make(f"{self.path}/sizes", size(world, number, label=label))

    def figures(self) -> list[tuple[int, int]]:
        return [
            (one["plain_rounds"], one["slow_decrease_rounds"])
            for one in self.steward.items(f"{self.path}/sizes")
        ]

    def defaults(self, query: str = "") -> dict[str, Any]:
        answer = self.steward.get(f"{self.path}/defaults{query}")
        assert answer.status_code == 200, answer.text
        return dict(answer.json)

    def report(self, label: str, people: range, **changed: Any) -> None:
        """Have that many people report on a size."""
        for person in people:
            body = self.world.report(design=self.name, size=label, **changed)
            self.steward.make("/reports", {**body, "reporter": f"Invented {person}"})

    def calibrate(self) -> None:
        made = self.steward.make("/calibrations")
        assert self.steward.post(f"/calibrations/{made['id']}/activation").status_code == 200


def size(world: Any, number: int, **changed: Any) -> dict[str, Any]:
    length, width = 225 + 15 * number, 205 + 14 * number
    ranges = {
        "foot_length_low_mm": length,
        "foot_length_high_mm": length + 15,
        "foot_circumference_low_mm": width,
        "foot_circumference_high_mm": width + 25,
    }
    stitches = {"heel_stitches": 60 + 4 * number, "slow_decrease_rounds": 2}
    return dict(world.size(**{**ranges, **stitches, **changed}))


@pytest.fixture
def designed(world: Any) -> Designed:
    return Designed(world)


def codes(one: dict[str, Any]) -> set[str]:
    return {warning["code"] for warning in one["warnings"]}


def test_without_reports_every_size_gets_the_geometry_s_default_and_says_so(designed) -> None:
    found = designed.defaults()
    assert [one["label"] for one in found["sizes"]] == list(LABELS)
    for one in found["sizes"]:
        assert "geometry_alone" in codes(one)
        assert one["today"]["slow_decrease_rounds"] == 2
        best = one["calibrated"]
        assert best["just_right"] > one["today"]["just_right"]
        assert one["low"] <= best["slow_decrease_rounds"] <= one["high"]
        total = best["too_shallow"] + best["just_right"] + best["too_deep"]
        assert total == pytest.approx(1, abs=0.02)
        assert "in 10 just right" in best["words"]
        assert one["feet"]["source"] == "survey"
    rounds = [one["calibrated"]["slow_decrease_rounds"] for one in found["sizes"]]
    assert all(0 <= after - before <= 2 for before, after in pairwise(rounds))
    assert found["calibration_id"] is None


def test_a_size_says_what_it_rests_on_and_nothing_of_fewer_than_ten_people(designed) -> None:
    designed.report("S", range(9))
    designed.report("M", range(10))
    designed.calibrate()
    small, medium, large = designed.defaults()["sizes"]
    assert small["named"] == {"reports": None, "people": None, "withheld": "too few people yet"}
    assert "too_few_people" in codes(small)
    assert medium["named"] == {"reports": 10, "people": 10, "withheld": None}
    assert large["named"] == {"reports": 0, "people": 0, "withheld": None}
    assert "no_reports" in codes(large)
    # The samples' foot, 250 by 230 mm, is in the range of M alone.
    assert medium["in_range"]["reports"] == 10, "19, in tens"
    assert large["in_range"]["reports"] == 0


def test_contradicting_reports_are_named(designed) -> None:
    for score in (-2, 2):
        designed.report("M", range(10 * score, 10 * score + 10), fit_score=score)
    designed.calibrate()
    medium = designed.defaults()["sizes"][1]
    assert medium["named"]["people"] == 20
    assert "contradicting_reports" in codes(medium)
    before = Designed(designed.world, "Invented other heel").defaults()["sizes"][1]
    rounds = [one["calibrated"]["slow_decrease_rounds"] for one in (medium, before)]
    assert abs(rounds[0] - rounds[1]) <= 1


def test_fifty_people_s_own_feet_take_the_survey_s_place(designed) -> None:
    for person in range(50):
        foot = designed.world.foot(foot_length_mm=245 + person / 10, reporter=f"Invented {person}")
        designed.steward.make("/feet", foot)
    medium, large = designed.defaults()["sizes"][1:]
    assert (medium["feet"]["source"], medium["feet"]["people"]) == ("group", 50)
    assert large["feet"]["source"] == "survey"


def test_all_sizes_are_adopted_and_the_step_is_undone(designed, is_problem) -> None:
    steward, path = designed.steward, designed.path
    before = designed.figures()
    wanted = [
        (one["calibrated"]["plain_rounds"], one["calibrated"]["slow_decrease_rounds"])
        for one in designed.defaults("?choose_plain=true")["sizes"]
    ]
    made = steward.make(f"{path}/adoptions", {"choose_plain": True})
    assert designed.figures() == wanted
    assert made["adopted_by"] == "Ottoline"
    assert [change["label"] for change in made["changes"]] == list(LABELS)
    is_problem(steward.post(f"{path}/adoptions", {"choose_plain": True}), 409)
    undone = steward.post(f"{path}/adoptions/{made['id']}/reversal")
    assert undone.json["undone_at"] is not None
    assert designed.figures() == before
    is_problem(steward.post(f"{path}/adoptions/{made['id']}/reversal"), 409)
    assert [one["id"] for one in steward.items(f"{path}/adoptions")] == [made["id"]]


def test_some_sizes_are_adopted_and_steps_are_undone_from_the_last(designed, is_problem) -> None:
    steward, path = designed.steward, designed.path
    ids = [one["id"] for one in steward.items(f"{path}/sizes")]
    first = steward.make(f"{path}/adoptions", {"sizes": ids[:1]})
    second = steward.make(f"{path}/adoptions", {"sizes": ids[1:]})
    assert [change["label"] for change in first["changes"]] == ["S"]
    is_problem(steward.post(f"{path}/adoptions/{first['id']}/reversal"), 409)
    for adoption in (second, first):
        answer = steward.post(f"{path}/adoptions/{adoption['id']}/reversal")
        assert answer.status_code == 200
    assert designed.figures() == [(3, 2)] * 3


def test_what_was_changed_by_hand_since_is_not_undone(designed, is_problem) -> None:
    steward, path = designed.steward, designed.path
    made = steward.make(f"{path}/adoptions")
    changed = made["changes"][0]
    one = f"{path}/sizes/{changed['size_id']}"
    now_ = changed["after"]["slow_decrease_rounds"]
    steward.patch(
        one, {"slow_decrease_rounds": now_ + 1}, If_Match=steward.get(one).headers["ETag"]
    )
    kept = designed.figures()
    problem = is_problem(steward.post(f"{path}/adoptions/{made['id']}/reversal"), 409)
    assert "size S was changed since" in problem["detail"]
    assert designed.figures() == kept


def test_a_knitter_reads_defaults_and_adopts_none(designed, is_problem) -> None:
    knitter, path = designed.world.mine.knitter, designed.path
    assert knitter.get(f"{path}/defaults").status_code == 200
    made = designed.steward.make(f"{path}/adoptions")
    is_problem(knitter.post(f"{path}/adoptions"), 403)
    is_problem(knitter.post(f"{path}/adoptions/{made['id']}/reversal"), 403)


def test_what_cannot_be_asked_is_named(designed, faults) -> None:
    steward, path = designed.steward, designed.path
    assert (
        "true or false" in faults(steward.get(f"{path}/defaults?choose_plain=1"))["/choose_plain"]
    )
    for socks in ("0", "61", "many"):
        wanted = faults(steward.get(f"{path}/test-knit-plan?socks={socks}"))
        assert "from 1 to 60" in wanted["/socks"]
    unknown = steward.post(f"{path}/adoptions", {"sizes": ["0" * 32]})
    assert "a size of this design" in faults(unknown)["/sizes"]
    assert (
        "one of text, csv, html" in faults(steward.get(f"{path}/pattern-table?form=pdf"))["/form"]
    )
    empty = f"/designs/{steward.make('/designs', {'name': 'Invented bare heel'})['id']}"
    for place in ("defaults", "test-knit-plan", "pattern-table"):
        assert "add sizes" in faults(steward.get(f"{empty}/{place}"))["/sizes"]


def test_a_size_known_by_name_alone_is_left_out_by_name(designed) -> None:
    designed.report("XXL", range(1))
    found = designed.defaults()
    assert found["left_out"] == ["XXL"]
    assert [one["label"] for one in found["sizes"]] == list(LABELS)


def test_a_plan_names_socks_that_can_be_knitted_and_what_they_teach(designed) -> None:
    plan = designed.steward.get(f"{designed.path}/test-knit-plan?socks=5").json
    assert [sock["number"] for sock in plan["socks"]] == [1, 2, 3, 4, 5]
    assert [sock["deliberate"] for sock in plan["socks"][:2]] == ["shallow", "deep"]
    for sock in plan["socks"]:
        assert sock["label"] in LABELS
        assert "of what is unsure" in sock["text"]
        decreased = sum(sock[f"{kind}_decrease_rounds"] for kind in ("slow", "medium", "fast"))
        assert sock["heel_stitches"] - 4 * decreased == 16
    assert "5 socks would settle" in plan["text"]


def test_the_pattern_table_has_all_sizes_in_three_forms_and_escapes_names(world) -> None:
    designed = Designed(world, "<b>Invented</b> & heel")
    place = f"{designed.path}/pattern-table"
    text = designed.steward.get(place)
    assert text.mimetype == "text/plain"
    assert "Plain section, rounds (size S: 3, size M: 3, size L: 3)" in text.text
    # By hand: 60, 64 and 68 stitches less 4 in each of 2 slow-decrease rounds.
    assert "Slow section, stitches left (size S: 52, size M: 56, size L: 60)" in text.text
    assert "Close over (size S: 16, size M: 16, size L: 16)" in text.text
    rows = list(csv.reader(io.StringIO(designed.steward.get(f"{place}?form=csv").text)))
    assert rows[:2] == [["size", *LABELS], ["Heel stitches", "60", "64", "68"]]
    page = designed.steward.get(f"{place}?form=html")
    assert page.mimetype == "text/html"
    assert "&lt;b&gt;Invented&lt;/b&gt; &amp; heel" in page.text
    assert "<b>" not in page.text
    assert "<script" not in page.text


def test_the_size_table_comes_as_csv_and_as_a_workbook(designed) -> None:
    place = f"{designed.path}/size-table"
    rows = list(csv.reader(io.StringIO(designed.steward.get(place).text)))
    book = load_workbook(io.BytesIO(designed.steward.get(f"{place}?form=xlsx").data)).active
    cells = [["" if c is None else str(c) for c in row] for row in book.iter_rows(values_only=True)]
    assert rows == cells
    assert [row[0] for row in rows] == ["label", *LABELS]


CSV = {"Content-Type": "text/csv"}


def test_a_size_table_is_taken_in_whole_or_not_at_all(designed, faults, is_problem) -> None:
    place, send = f"{designed.path}/size-table", designed.steward.ask
    table = designed.steward.get(place).text
    book = designed.steward.get(f"{place}?form=xlsx")
    grown = table + table.splitlines()[-1].replace("L,", "XL,", 1) + "\n"
    taken = send("POST", place, data=grown, headers=CSV)
    assert taken.json == {"new": 1, "changed": 0}
    again = send("POST", place, data=book.data, headers={"Content-Type": book.mimetype})
    assert again.json == {"new": 0, "changed": 0}
    wrong = send("POST", place, data=grown.replace(",68,", ",67.5,"), headers=CSV)
    assert set(faults(wrong)) == {"/rows/4/heel_stitches", "/rows/5/heel_stitches"}
    assert [one["label"] for one in designed.steward.items(f"{designed.path}/sizes")] == [
        *LABELS,
        "XL",
    ]
    is_problem(send("POST", place, json={}), 415)
    is_problem(designed.world.mine.knitter.ask("POST", place, data=table, headers=CSV), 403)


def test_whether_it_helped_is_said_where_ten_people_stand_on_each_side(designed) -> None:
    steward = designed.steward
    designed.report("M", range(20), fit_score=-2, knitted_on="2024-01-01")
    designed.report("L", range(20), fit_score=-2, knitted_on="2024-01-01")
    made = steward.make(f"{designed.path}/adoptions")
    assert {change["label"] for change in made["changes"]} == set(LABELS)
    designed.report("M", range(20, 40), fit_score=0)
    designed.report("L", range(20, 29), fit_score=0)
    designed.calibrate()
    effects = {one["label"]: one for one in steward.items(f"{designed.path}/effects")}
    medium, large, small = (effects[label] for label in ("M", "L", "S"))
    assert medium["before"]["just_right"] == 0
    assert medium["since"]["just_right"] == 1
    # Wilson 80 % for 0 of 20: z^2 / (n + z^2) with z = 1.2816.
    assert medium["before"]["high"] == pytest.approx(1.6424 / 21.6424, abs=0.005)
    assert medium["text"].startswith("It helped")
    assert large["since"] is None
    assert large["text"] == (
        "Too few people yet: fewer than 10 new ones had reported since when the group calibrated "
        "last."
    )
    assert (small["before"], small["since"]) == (None, None)


def test_whether_it_helped_says_nothing_of_a_newcomer(designed) -> None:
    """A share is renewed once the reports of ten people on its size are others."""
    steward, knitter = designed.steward, designed.world.mine.knitter
    designed.report("M", range(20), fit_score=-2, knitted_on="2024-01-01")
    steward.make(f"{designed.path}/adoptions")
    designed.report("M", range(20, 40), fit_score=0)

    def read() -> dict[str, Any]:
        effects = knitter.items(f"{designed.path}/effects")
        return next(one for one in effects if one["label"] == "M")

    designed.calibrate()
    shown = read()
    designed.report("M", range(40, 41), fit_score=2)
    assert read() == shown
    designed.calibrate()
    assert read() == shown, "one person is new"
    designed.report("M", range(41, 49), fit_score=2)
    designed.report("S", range(60, 80), fit_score=2)
    designed.calibrate()
    assert read() == shown, "nine people are new in the size, many more in the group"
    designed.report("M", range(49, 50), fit_score=2)
    assert read() == shown, "ten are new: the next calibration shows it"
    designed.calibrate()
    renewed = read()
    assert renewed["since"]["reports"] == 30
    assert renewed["since"]["just_right"] == pytest.approx(20 / 30, abs=0.005)
    assert renewed["before"] == shown["before"]


def test_whether_it_helped_is_not_shown_without_somebody_who_was_erased(designed) -> None:
    """Beside the share that was shown, the one of the others would tell of her."""
    steward = designed.steward
    designed.report("M", range(20), fit_score=-2, knitted_on="2024-01-01")
    steward.make(f"{designed.path}/adoptions")
    designed.report("M", range(20, 40), fit_score=0)
    designed.report("M", range(40, 41), fit_score=2)
    designed.calibrate()

    def sides() -> tuple[int | None, ...]:
        effects = steward.items(f"{designed.path}/effects")
        read = next(one for one in effects if one["label"] == "M")
        return tuple(read[side] and read[side]["reports"] for side in ("before", "since"))

    assert sides() == (20, 21)
    with designed.world.database.read() as session:
        query = session.query(Member.id).filter_by(group_id=steward.group_id, name="Invented 40")
        [member_id] = query.one()
    assert steward.delete(f"/reporters/{member_id}").status_code in (200, 202, 204)
    assert sides()[1] is None
    designed.report("M", range(41, 50), fit_score=0)
    designed.calibrate()
    assert sides()[1] is None, "nine came and one went"
    designed.report("M", range(50, 51), fit_score=0)
    designed.calibrate()
    assert sides()[1] == 30
    with designed.world.database.read() as session:
        kept = repr([row.diagnostics for row in session.query(Calibration)])
    assert member_id not in kept
