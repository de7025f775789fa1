"""Designs by pages: what a size has and should have, adopting, tables, test knits."""

from __future__ import annotations

import io
import re
from typing import Any

import pytest

from seed_demo.design import sizes


@pytest.fixture
def design(pool) -> Any:
    """Return a pool with a design of five sizes, made by the page."""
    sent = pool.send("/designs", name="Invented lapwing heel")
    assert sent.status_code == 302
    pool.path = sent.location.removeprefix(pool.address)
    return pool


@pytest.fixture
def sized(design) -> Any:
    for size in sizes():
        design.steward.make(f"{design.path}/sizes", size)
    return design


def test_a_design_without_sizes_says_what_comes_next(design) -> None:
    page = design.get(design.path).text
    assert "No size is known well enough yet." in page
    assert "Take in this table" in page
    assert "Invented lapwing heel" in design.get("/designs").text


def test_a_name_that_is_taken_or_missing_is_refused(design) -> None:
    for name, said in (("Invented lapwing heel", "has this name already"), ("", "text of 1")):
        sent = design.send("/designs", name=name)
        assert sent.status_code == 422
        assert said in sent.text


def test_the_table_is_that_of_the_api(sized) -> None:
    page = sized.get(sized.path).text
    told = sized.steward.get(f"{sized.path}/defaults").json
    table = page.split("by size</caption>")[1].split("</table>")[0]
    for size in told["sizes"]:
        cells = [
            f"{size['today']['slow_decrease_rounds']}",
            f"{100 * size['today']['just_right']:.0f} %",
            f"{size['calibrated']['slow_decrease_rounds']}",
            f"{100 * size['calibrated']['just_right']:.0f} %",
            f"{size['low']} to {size['high']}",
        ]
        row = f'<th scope="row">{size["label"]}</th>' + "".join(f"<td>{c}</td>" for c in cells)
        assert row in table
        assert f"Calibrated: {size['calibrated']['words']}" in page
    assert page.count('class="shares"') == 2 * len(told["sizes"])


def rounds(pool) -> list[int]:
    return [one["slow_decrease_rounds"] for one in pool.steward.items(f"{pool.path}/sizes")]


def test_some_sizes_are_adopted_and_given_back(sized) -> None:
    wanted = sized.steward.get(f"{sized.path}/defaults").json["sizes"]
    ids = [one["size_id"] for one in wanted][:2]
    sent = sized.send(f"{sized.path}/adoptions", sizes=ids)
    assert sent.status_code == 302
    best = [one["calibrated"]["slow_decrease_rounds"] for one in wanted]
    assert rounds(sized) == [*best[:2], 2, 2, 2]
    page = sized.browser.get(sent.location).text
    assert "have their calibrated rounds now" in page
    assert page.count("fewer than 10 new ones had reported before it") == 2
    undo = re.search(r'action="([^"]*/reversal)"', page)[1].removeprefix(sized.address)
    assert sized.send(undo).status_code == 302
    assert rounds(sized) == [2, 2, 2, 2, 2]
    assert sized.send(undo).status_code == 409


def test_adopting_nothing_is_refused_in_words(sized) -> None:
    sent = sized.send(f"{sized.path}/adoptions", sizes=["0" * 32])
    assert sent.status_code == 409
    assert "must be a size of this design" in sent.text
    assert rounds(sized) == [2] * 5


def test_a_size_table_comes_in_as_the_api_writes_it_out(sized) -> None:
    for form, name in (("csv", "sizes.csv"), ("xlsx", "sizes.xlsx")):
        content = sized.steward.get(f"{sized.path}/size-table?form={form}").data
        other = sized.send("/designs", name=f"Invented plover {form}").location
        path = other.removeprefix(sized.address)
        sent = sized.send(f"{path}/size-table", table=(io.BytesIO(content), name))
        assert sent.status_code == 302
        again = sized.steward.get(f"{path}/size-table?form=csv").data
        assert again == sized.steward.get(f"{sized.path}/size-table?form=csv").data


def test_a_wrong_table_changes_nothing_and_names_row_and_column(design) -> None:
    head = ",".join(name for name in next(sizes()))
    line = ",".join(str(v) for v in {**next(sizes()), "yarn_weight": "much"}.values())
    table = (io.BytesIO(f"{head}\n{line}\n".encode()), "sizes.csv")
    sent = design.send(f"{design.path}/size-table", table=table)
    assert sent.status_code == 422
    assert "yarn_weight is" in sent.text
    assert "much" in sent.text
    assert "2" in re.search(r"[Rr]ow (\d+)", sent.text)[1]
    assert design.steward.items(f"{design.path}/sizes") == []
    assert "choose a file" in design.send(f"{design.path}/size-table").text


FORM = {name: str(value) for name, value in next(sizes()).items()}


def test_a_size_is_added_and_changed_by_a_form(design) -> None:
    given = {**FORM, "foot_length_low_mm": "22,5 cm"}
    assert design.send(f"{design.path}/sizes/new", **given).status_code == 302
    (size,) = design.steward.items(f"{design.path}/sizes")
    assert size["foot_length_low_mm"] == 225
    page = design.get(f"{design.path}/sizes/{size['id']}").text
    assert 'value="225"' in page
    changed = {**FORM, "slow_decrease_rounds": "5"}
    assert design.send(f"{design.path}/sizes/{size['id']}", **changed).status_code == 302
    assert rounds(design) == [5]


@pytest.mark.parametrize("text", ["", "many", "3.5", "1,234", "4 cm"])
def test_a_size_that_cannot_be_is_refused_beside_its_field(design, text: str) -> None:
    given = {**FORM, "slow_decrease_rounds": text}
    sent = design.send(f"{design.path}/sizes/new", **given)
    assert sent.status_code == 422
    assert 'id="slow_decrease_rounds-fault"' in sent.text
    assert f'value="{FORM["heel_stitches"]}"' in sent.text
    assert design.steward.items(f"{design.path}/sizes") == []


def test_the_plan_is_that_of_the_api(sized) -> None:
    page = sized.get(f"{sized.path}/plan?socks=3").text
    told = sized.steward.get(f"{sized.path}/test-knit-plan?socks=3").json
    assert told["text"] in page
    for sock in told["socks"]:
        assert sock["text"] in page
    refused = sized.get(f"{sized.path}/plan?socks=x")
    assert refused.status_code == 422
    assert "a whole number from 1 to 60" in refused.text


def test_the_pattern_s_table_is_that_of_the_api(sized) -> None:
    page = sized.get(f"{sized.path}/pattern").text
    for line in sized.steward.get(f"{sized.path}/pattern-table?form=csv").text.splitlines()[1:]:
        title, *values = re.split(r",(?=\d)", line)
        cells = "".join(f"<td>{value}</td>" for value in values)
        assert f'<th scope="row">{title.strip(chr(34))}</th>{cells}' in page


def test_pages_stay_small(sized) -> None:
    for path in ("/designs", sized.path, f"{sized.path}/plan?socks=60", f"{sized.path}/pattern"):
        assert len(sized.get(path).data) < 60_000


def test_sixty_sizes_stay_small_and_are_told_of_a_few_at_a_time(design) -> None:
    for number in range(60):
        size = next(sizes()) | {"label": f"Invented {number:02}", "slow_decrease_rounds": 0}
        design.steward.make(f"{design.path}/sizes", size)
    for _ in range(5):
        path = design.steward.make(f"{design.path}/adoptions")["id"]
        design.steward.post(f"{design.path}/adoptions/{path}/reversal")
    design.steward.make(f"{design.path}/adoptions")
    page = design.get(design.path)
    assert len(page.data) < 60_000
    assert page.text.count('class="shares"') == 2 * 8
    assert "2 adoptions before are left out here" in page.text
    assert page.text.count("Undo this adoption") == 1
    last = design.get(f"{design.path}?from=56").text
    assert "Size Invented 59</h3>" in last
    assert "Sizes after" not in last
    assert "Size Invented 00</h3>" in design.get(f"{design.path}?from=x").text
