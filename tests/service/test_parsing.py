"""Lists page by page, and the query that asks for them."""

from __future__ import annotations

import re
from typing import Any

import pytest

LISTS = ["/feet", "/reports", "/calibrations"]


def pages(who: Any, path: str, between: Any = lambda: None) -> list[list[str]]:
    """Follow `Link` from a path to the end, doing something between pages."""
    found, following = [], path
    while following:
        answer = who.get(following)
        assert answer.status_code == 200
        found.append([item["id"] for item in answer.json["items"]])
        link = re.fullmatch('<([^>]*)>; rel="next"', answer.headers.get("Link", ""))
        following = link[1] if link else ""
        assert (answer.json["next"] is not None) is bool(link)
        between()
    return found


@pytest.mark.parametrize("path", LISTS)
def test_pages_hold_every_row_once_and_in_order(world: Any, path: str) -> None:
    steward = world.mine.steward
    bodies = {"/feet": world.foot(), "/reports": world.report(), "/calibrations": {}}
    made = [steward.make(path, bodies[path])["id"] for _ in range(5)]
    for limit, sizes in ((2, [2, 2, 1]), (5, [5]), (200, [5])):
        found = pages(steward, f"{path}?limit={limit}")
        assert [len(page) for page in found] == sizes
        assert [one for page in found for one in page] == made


def test_an_empty_list_has_no_next_page(lasting: Any) -> None:
    answer = lasting.theirs.knitter.get("/feet")
    assert answer.json == {"items": [], "next": None}
    assert "Link" not in answer.headers


def test_rows_that_come_and_go_meanwhile_neither_repeat_nor_hide_others(world: Any) -> None:
    steward = world.mine.steward
    made = [steward.make("/reports", world.report())["id"] for _ in range(9)]
    doomed = iter((made[0], made[2], made[8], None, None, None, None, None))
    come: list[str] = []

    def change() -> None:
        gone = next(doomed, None)
        if gone:
            assert steward.delete(f"/reports/{gone}", If_Match="*").status_code == 204
            come.append(steward.make("/reports", world.report())["id"])

    seen = [one for page in pages(steward, "/reports?limit=2", change) for one in page]
    assert len(seen) == len(set(seen))
    assert set(made) - {made[0], made[2], made[8]} <= set(seen)
    assert seen == [one for one in [*made, *come] if one in seen]
    assert set(come) <= set(seen)


def test_a_cursor_whose_row_is_gone_still_leads_on(world: Any) -> None:
    steward = world.mine.steward
    made = [steward.make("/reports", world.report())["id"] for _ in range(3)]
    cursor = steward.get("/reports?limit=1").json["next"]
    steward.delete(f"/reports/{cursor}", If_Match="*")
    rest = steward.get(f"/reports?cursor={cursor}").json["items"]
    assert [one["id"] for one in rest] == made[1:]


def test_the_cursor_of_another_group_shows_nothing_of_it(world: Any) -> None:
    own = world.mine.steward.make("/feet", world.foot())["id"]
    cursor = world.theirs.steward.make("/feet", world.foot())["id"]
    for where in (cursor, "0" * 32):
        items = world.mine.steward.get(f"/feet?cursor={where}").json["items"]
        assert {one["id"] for one in items} <= {own}


@pytest.mark.parametrize("path", LISTS)
@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        *((f"limit={n}", "/limit") for n in ("0", "201", "-1", "x", "", "1.0", "1_0", "%2B5")),
        ("limit=%D9%A5", "/limit"),
        ("limit=" + "9" * 5000, "/limit"),
        *((f"cursor={c}", "/cursor") for c in ("x", "", "0" * 31, "G" * 32, "%00", "'--")),
        ("page=2", "/page"),
        ("group_id=" + "0" * 32, "/group_id"),
    ],
)
def test_a_query_that_cannot_be_is_refused(
    lasting: Any, faults: Any, path: str, query: str, pointer: str
) -> None:
    assert list(faults(lasting.mine.steward.get(f"{path}?{query}"))) == [pointer]


def test_a_default_page_has_fifty(world: Any) -> None:
    for _ in range(51):
        world.mine.knitter.make("/feet", world.foot())
    assert [len(page) for page in pages(world.mine.knitter, "/feet")] == [50, 1]


def test_of_a_body_of_nothing_but_faults_a_hundred_are_told(lasting: Any, faults: Any) -> None:
    body = {f"unknown_{number}": number for number in range(10_000)}
    assert len(faults(lasting.client.post("/v1/schedules", json=body))) == 100
