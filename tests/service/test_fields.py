"""Fields that cannot be: each a 422 that names the field, the value and what would be right.

All on one world that must not change; everything here is refused before anything is stored.
"""

from __future__ import annotations

from typing import Any

import pytest

from models.domain.foot import MEASUREMENTS
from models.domain.quantities import CLOSING_STITCHES, DECREASES_PER_ROUND
from models.domain.reports import AFTERWARDS, SOCK
from models.tables.base import Base

WRONG = {
    "text": "64",
    "text with a unit": "64 mm",
    "true": True,
    "list": [64],
    "object": {"value": 64},
    "negative": -1e6,
    "absurd": 1e300,
    "absurd integer": 10**30,
    "beyond 64 bits": 2**70,
}
NUMBERS = (*MEASUREMENTS, *SOCK, *AFTERWARDS, DECREASES_PER_ROUND, CLOSING_STITCHES)
INJECTED = ("group_id", "role", "status", "id", "version", "member_id", "person_id", "created_at")


@pytest.fixture(autouse=True)
def _unchanged(lasting: Any) -> Any:
    """Hold that nothing that is refused leaves a row."""
    before = _rows(lasting)
    yield
    assert _rows(lasting) == before


def _rows(world: Any) -> dict[str, int]:
    with world.database.read() as session:
        return {t.name: session.query(t).count() for t in Base.metadata.sorted_tables}


def _takers(world: Any) -> dict[str, tuple[str, dict[str, Any]]]:
    """Return path and a good body for every kind of body with numbers."""
    return {
        "schedule": ("/v1/schedules", world.schedule(foot=world.foot())),
        "foot": ("/feet", world.foot()),
        "report": ("/reports", world.report()),
        "question": ("/suggestions", world.question()),
    }


def _numbers(body: dict[str, Any]) -> list[str]:
    return [name for name, value in body.items() if isinstance(value, int | float)]


@pytest.mark.parametrize("kind", ["schedule", "foot", "report", "question"])
@pytest.mark.parametrize("value", WRONG.values(), ids=WRONG)
def test_every_number_refuses_what_is_no_such_number(
    lasting: Any, faults: Any, kind: str, value: Any
) -> None:
    path, body = _takers(lasting)[kind]
    for name in _numbers(body):
        answer = lasting.mine.steward.post(path, {**body, name: value})
        wanted = faults(answer)
        assert list(wanted) == [f"/{name}"]
        assert "number from" in wanted[f"/{name}"]
        assert name in answer.json["detail"]


@pytest.mark.parametrize("kind", ["schedule", "foot", "report", "question"])
def test_every_required_field_that_is_missing_or_null_is_named_at_once(
    lasting: Any, faults: Any, kind: str
) -> None:
    path, body = _takers(lasting)[kind]
    names = _numbers(body)
    for empty in (
        {k: v for k, v in body.items() if k not in names},
        body | dict.fromkeys(names),
    ):
        found = faults(lasting.mine.steward.post(path, empty))
        assert sorted(found) == sorted(f"/{name}" for name in names)
        assert all("number from" in wanted for wanted in found.values())


@pytest.mark.parametrize("quantity", NUMBERS)
def test_every_quantity_is_refused_just_outside_its_limits(
    lasting: Any, faults: Any, quantity: Any
) -> None:
    step = 1 if quantity.integer else 0.001
    path, make = ("/reports", lasting.report)
    if quantity is CLOSING_STITCHES:
        path, make = ("/suggestions", lasting.question)
    for value in (quantity.low - step, quantity.high + step):
        if quantity in MEASUREMENTS:
            body, pointer = lasting.report(foot=lasting.foot(**{quantity.name: value})), "/foot/"
        else:
            body, pointer = make(**{quantity.name: value}), "/"
        found = faults(lasting.mine.steward.post(path, body))
        limits = f"from {quantity.low:g} to {quantity.high:g}"
        assert limits in found[f"{pointer}{quantity.name}"]


@pytest.mark.parametrize("quantity", [quantity for quantity in SOCK if quantity.integer])
def test_a_count_refuses_fractions(lasting: Any, faults: Any, quantity: Any) -> None:
    found = faults(lasting.mine.steward.post("/reports", lasting.report(**{quantity.name: 1.5})))
    assert "whole number" in found[f"/{quantity.name}"]


@pytest.mark.parametrize(
    ("length", "slip"),
    [
        (9.8, "inches given as millimetres: 9.8 would be 249 mm"),
        (25, "centimetres given as millimetres: 25 would be 250 mm"),
        (98, "inches given as centimetres: 98 would be 249 mm"),
        (2500, "a comma one place too far right: 2500 would be 250 mm"),
    ],
)
@pytest.mark.parametrize("kind", ["schedule", "foot", "report", "question"])
def test_a_foot_length_in_another_unit_is_refused_with_the_slip_named(
    lasting: Any, faults: Any, kind: str, length: float, slip: str
) -> None:
    path, body = _takers(lasting)[kind]
    wrong = lasting.foot(foot_length_mm=length)
    pointer = "/foot_length_mm" if kind == "foot" else "/foot/foot_length_mm"
    body = wrong if kind == "foot" else {**body, "foot": wrong}
    found = faults(lasting.mine.steward.post(path, body))
    assert list(found) == [pointer]
    assert slip in found[pointer]


@pytest.mark.parametrize("name", INJECTED)
def test_what_the_service_decides_itself_cannot_be_given(
    lasting: Any, faults: Any, name: str
) -> None:
    calibration = lasting.mine.steward.get("/calibrations")
    assert calibration.status_code == 200
    bodies = [
        *_takers(lasting).values(),
        (
            "/v1/groups",
            {"name": "Invented refused", "steward": "Isolde", "consent_version": 3},
        ),
        ("/calibrations", {}),
        (f"/calibrations/{'0' * 32}/activation", {}),
    ]
    for path, body in bodies:
        found = faults(lasting.mine.steward.post(path, {**body, name: "steward"}))
        assert found[f"/{name}"].startswith("no such field; fields are ")
        assert len(found) == 1


@pytest.mark.parametrize("kind", ["schedule", "report", "question"])
def test_an_unknown_measurement_is_refused_with_those_there_are(
    lasting: Any, faults: Any, kind: str
) -> None:
    path, body = _takers(lasting)[kind]
    foot = lasting.foot(shoe_size=39)
    found = faults(lasting.mine.steward.post(path, {**body, "foot": foot}))
    assert "heel_diagonal_mm" in found.pop("/foot/shoe_size")
    assert found == {}


@pytest.mark.parametrize("value", [5, "250 x 230", [250, 230], True])
@pytest.mark.parametrize("kind", ["schedule", "report", "question"])
def test_a_foot_that_is_no_object_is_refused(
    lasting: Any, faults: Any, kind: str, value: Any
) -> None:
    path, body = _takers(lasting)[kind]
    found = faults(lasting.mine.steward.post(path, {**body, "foot": value}))
    assert "foot_length_mm" in found["/foot"]


@pytest.mark.parametrize("path", ["/reports", "/suggestions"])
def test_a_foot_is_either_given_or_named(lasting: Any, faults: Any, path: str) -> None:
    make = lasting.report if path == "/reports" else lasting.question
    for foot in ({"foot_id": "0" * 32}, {"foot": ...}):
        found = faults(lasting.mine.steward.post(path, make(**foot)))
        assert found == {"/foot": "give either foot or foot_id"}
    found = faults(lasting.mine.steward.post(path, make(foot=None)))
    assert "measurements" in found["/foot"]


@pytest.mark.parametrize("value", ["", "x", "0" * 31, "0" * 33, "G" * 32, "A" * 32, 5, None, []])
def test_an_id_that_this_service_never_gave_is_refused(
    lasting: Any, faults: Any, value: Any
) -> None:
    body = lasting.report(foot=..., foot_id=value)
    assert "32 characters" in faults(lasting.mine.steward.post("/reports", body))["/foot_id"]


@pytest.mark.parametrize(
    ("changed", "pointer", "wanted"),
    [
        ({"heel_stitches": 66, "plain_rounds": 0}, "/heel_stitches", "use 64 or 68"),
        ({"fast_decrease_rounds": 9}, "/heel_stitches", "at most 15 decrease rounds"),
        ({"heel_stitches": 8, "decreases_per_round": 9}, "/decreases_per_round", "at most 8"),
        ({"size": "M"}, "/size", "name the design"),
        ({"knitted_on": "2999-01-01"}, "/knitted_on", "not be in the future"),
        ({"knitted_on": "05.01.2026"}, "/knitted_on", "YYYY-MM-DD"),
        ({"knitted_on": "20260105"}, "/knitted_on", "YYYY-MM-DD"),
        ({"knitted_on": "2026-W01-1"}, "/knitted_on", "YYYY-MM-DD"),
        ({"knitted_on": "2026-02-30"}, "/knitted_on", "YYYY-MM-DD"),
        ({"knitted_on": 20260105}, "/knitted_on", "YYYY-MM-DD"),
    ],
)
def test_a_sock_that_cannot_be_is_refused_with_what_could(
    lasting: Any, faults: Any, changed: dict[str, Any], pointer: str, wanted: str
) -> None:
    found = faults(lasting.mine.steward.post("/reports", lasting.report(**changed)))
    assert list(found) == [pointer]
    assert wanted in found[pointer]


@pytest.mark.parametrize("value", ["knot", "", 5, None, True, ["graft"]])
def test_a_way_to_close_that_there_is_not_is_refused_with_those_there_are(
    lasting: Any, faults: Any, value: Any
) -> None:
    answer = lasting.client.post("/v1/schedules", json=lasting.schedule(close=value))
    assert faults(answer) == {"/close": "one of graft, gather"}


TEXTS = {"reporter": 80, "design": 80, "size": 40, "notes": 2000}


@pytest.mark.parametrize("name", TEXTS)
def test_text_is_refused_where_it_is_odd_empty_or_too_long(
    lasting: Any, faults: Any, name: str
) -> None:
    odd = ["a\0b", "\0", "a\x07b", "a\x7fb", "a\x85b", "a\rb", "", "   ", "\n", 5, True, ["x"], {}]
    others = {"design": "Invented ripple"} if name == "size" else {}
    for value in [*odd, "x" * (TEXTS[name] + 1), "\u00e9" * (TEXTS[name] + 1)]:
        body = lasting.report(**others, **{name: value})
        found = faults(lasting.mine.steward.post("/reports", body))
        assert found[f"/{name}"].startswith(f"text of 1 to {TEXTS[name]} characters")


@pytest.mark.parametrize("name", ["reporter", "design", "size"])
def test_names_are_of_one_line(lasting: Any, faults: Any, name: str) -> None:
    found = faults(lasting.mine.steward.post("/reports", lasting.report(**{name: "a\nb"})))
    assert "in one line" in found[f"/{name}"]


@pytest.mark.parametrize("name", ["name", "steward"])
def test_the_names_of_a_group_are_text_of_one_line(lasting: Any, faults: Any, name: str) -> None:
    body = {"name": "Invented refused group", "steward": "Isolde", "consent_version": 3}
    for value in (None, "", "x" * 81, "a\nb", "a\0", 5, ["x"]):
        found = faults(lasting.client.post("/v1/groups", json={**body, name: value}))
        assert found == {f"/{name}": "text of 1 to 80 characters in one line"}


def test_all_that_is_wrong_is_told_at_once(lasting: Any, faults: Any) -> None:
    wrong = {"heel_stitches": "64", "notes": "\0", "knitted_on": 5, "colour": "red"}
    foot = lasting.foot(foot_length_mm=25, shoe_size=39)
    found = faults(lasting.mine.steward.post("/reports", lasting.report(**wrong, foot=foot)))
    nested = ["/foot/foot_length_mm", "/foot/shoe_size"]
    assert sorted(found) == sorted([*nested, *(f"/{name}" for name in wrong)])
