"""What takes long is worked out once, kept, and never out of date."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from sqlalchemy import event, func, select
from sqlalchemy.exc import OperationalError

from models.actions import kept_results
from models.tables.kept import KeptResult
from service import results


@pytest.fixture
def design(world: Any) -> str:
    """Return the path of a design of two sizes."""
    made = world.mine.steward.make("/designs", {"name": "Invented fen heel"})
    path = f"/designs/{made['id']}"
    for number, label in enumerate(("S", "M")):
        numbers = {
            "foot_length_low_mm": 230 + 20 * number,
            "foot_length_high_mm": 250 + 20 * number,
        }
        world.mine.steward.make(f"{path}/sizes", world.size(label=label, **numbers))
    return path


@pytest.fixture
def worked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return what was worked out, by kind."""
    kinds: list[str] = []
    usual = kept_results.worked_out

    def counting(session: Any, actor: Any, kind: str, asked: Any) -> str:
        kinds.append(kind)
        return usual(session, actor, kind, asked)

    monkeypatch.setattr(kept_results, "worked_out", counting)
    return kinds


def test_a_result_is_worked_out_once_and_is_the_same_again(
    world: Any, design: str, worked: list[str]
) -> None:
    for path in (f"{design}/defaults", f"{design}/test-knit-plan?socks=3"):
        first, again = (world.mine.steward.get(path) for _ in range(2))
        assert first.status_code == again.status_code == 200
        assert first.json == again.json
    assert worked == ["defaults", "plan"]
    world.mine.steward.get(f"{design}/defaults?choose_plain=true")
    assert worked == ["defaults", "plan", "defaults"]


def report_of(world: Any, **changed: Any) -> dict[str, Any]:
    return dict(world.mine.knitter.make("/reports", world.report(**changed)))


def sizes_of(world: Any, design: str) -> list[dict[str, Any]]:
    return list(world.mine.steward.items(f"{design}/sizes"))


CHANGES = {
    "a report": lambda world, _design, _made: report_of(world),
    "a correction": lambda world, _design, made: world.mine.knitter.patch(
        f"/reports/{made['id']}", {"fit_score": 2}, If_Match="*"
    ),
    "a report taken back": lambda world, _design, made: world.mine.knitter.delete(
        f"/reports/{made['id']}", If_Match="*"
    ),
    "a report held": lambda world, _design, made: world.mine.steward.make(
        f"/reports/{made['id']}/reviews", {"status": "held", "from": "counted"}
    ),
    "a foot": lambda world, _design, _made: world.mine.knitter.make("/feet", world.foot()),
    "a calibration": lambda world, _design, _made: world.mine.steward.make("/calibrations"),
    "an activation": lambda world, _design, _made: world.well_known(world.mine.steward),
    "a size": lambda world, design, _made: world.mine.steward.make(
        f"{design}/sizes", world.size(label="L")
    ),
    "a size's numbers": lambda world, design, _made: world.mine.steward.patch(
        f"{design}/sizes/{sizes_of(world, design)[0]['id']}",
        {"slow_decrease_rounds": 1},
        If_Match="*",
    ),
    "a size less": lambda world, design, _made: world.mine.steward.delete(
        f"{design}/sizes/{sizes_of(world, design)[0]['id']}", If_Match="*"
    ),
    "a name": lambda world, design, _made: world.mine.steward.patch(
        design, {"name": "Invented marsh heel"}, If_Match="*"
    ),
    "an adoption": lambda world, design, _made: world.mine.steward.make(f"{design}/adoptions"),
}


@pytest.mark.parametrize("change", CHANGES)
def test_whatever_changes_a_result_has_it_worked_out_anew(
    world: Any, design: str, worked: list[str], change: str
) -> None:
    made, path = report_of(world), f"{design}/defaults"
    world.mine.steward.get(path)
    CHANGES[change](world, design, made)
    before = len(worked)
    told = world.mine.steward.get(path).json
    assert len(worked) == before + 1
    with world.database.write.begin() as session:
        session.query(KeptResult).delete()
    assert world.mine.steward.get(path).json == told, "it is what would be worked out now"


def test_what_others_do_leaves_a_result_kept(world: Any, design: str, worked: list[str]) -> None:
    world.mine.steward.get(f"{design}/defaults")
    theirs = world.theirs.knitter
    theirs.make("/reports", world.report())
    world.theirs.steward.make("/calibrations")
    world.mine.steward.get(f"{design}/defaults")
    assert worked == ["defaults"]
    world.mine.knitter.get(f"{design}/defaults")
    assert worked == ["defaults"] * 2, "who may see less has a result of their own"


def test_an_erasure_leaves_no_result_of_its_group(world: Any, design: str) -> None:
    world.mine.steward.get(f"{design}/defaults")
    assert world.mine.knitter.delete("/v1/me").status_code == 200
    with world.database.read() as session:
        assert session.scalar(select(func.count()).select_from(KeptResult)) == 0


def test_the_newest_results_of_a_kind_are_kept(world: Any, design: str) -> None:
    for socks in range(1, kept_results.MOST_OF_A_KIND + 4):
        assert world.mine.steward.get(f"{design}/test-knit-plan?socks={socks}").status_code == 200
    with world.database.read() as session:
        kept = session.scalar(select(func.count()).select_from(KeptResult))
    assert kept == kept_results.MOST_OF_A_KIND


@pytest.fixture
def held_up(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """Yield an event until which nothing is worked out."""
    go_on = threading.Event()
    usual = results.worked_out

    def waiting(*given: Any, **more: Any) -> str:
        assert go_on.wait(30)
        return usual(*given, **more)

    monkeypatch.setattr(results, "worked_out", waiting)
    yield go_on
    go_on.set()


def test_who_waits_too_long_is_told_to_come_back_and_then_has_it(
    world: Any, design: str, held_up: threading.Event, worked: list[str], monkeypatch: Any
) -> None:
    monkeypatch.setattr(results, "PATIENCE_S", 0.05)
    path = f"{design}/defaults"
    for _ in range(2):
        told = world.mine.steward.get(path)
        assert (told.status_code, told.json["state"]) == (202, "pending")
        assert int(told.headers["Retry-After"]) >= 1
    held_up.set()
    until = time.monotonic() + 30
    while world.mine.steward.get(path).status_code == 202 and time.monotonic() < until:
        time.sleep(0.05)
    assert world.mine.steward.get(path).status_code == 200
    assert worked == ["defaults"]


def test_many_who_ask_the_same_wait_for_one_and_leave_threads_for_others(
    world: Any, design: str, held_up: threading.Event, worked: list[str]
) -> None:
    token = {"Authorization": f"Bearer {world.mine.steward.token}"}
    path = f"/v1/groups/{world.mine.steward.group_id}{design}/defaults"

    def ask(_: int) -> int:
        return int(world.app.test_client().get(path, headers=token).status_code)

    with ThreadPoolExecutor(10) as threads:
        asked = [threads.submit(ask, n) for n in range(10)]
        until = time.monotonic() + 30
        while sum(one.done() for one in asked) < 6 and time.monotonic() < until:
            time.sleep(0.05)
        held_up.set()
        said = sorted(one.result() for one in asked)
    assert said == [200] * 4 + [202] * 6, "half of eight threads wait"
    assert worked == ["defaults"]


def test_a_group_has_a_few_results_on_their_way(
    world: Any, design: str, held_up: threading.Event, monkeypatch: Any, is_problem: Any
) -> None:
    monkeypatch.setattr(results, "PATIENCE_S", 0.01)
    path = f"{design}/test-knit-plan?socks="
    for socks in range(1, results.MOST_OF_A_GROUP + 1):
        assert world.mine.steward.get(f"{path}{socks}").status_code == 202
    refused = world.mine.steward.get(f"{path}50")
    is_problem(refused, 503)
    assert int(refused.headers["Retry-After"]) >= 1
    held_up.set()


def test_what_changed_while_it_was_worked_out_is_not_kept(
    world: Any, design: str, held_up: threading.Event, monkeypatch: Any
) -> None:
    monkeypatch.setattr(results, "PATIENCE_S", 0.05)
    assert world.mine.steward.get(f"{design}/defaults").status_code == 202
    report_of(world)
    held_up.set()
    begun = world.app.extensions["heeldepth_results"]._begun
    until = time.monotonic() + 30
    while begun and time.monotonic() < until:
        time.sleep(0.05)
    with world.database.read() as session:
        assert session.scalar(select(func.count()).select_from(KeptResult)) == 0


@pytest.mark.only_on("sqlite")
def test_a_result_that_cannot_be_kept_is_answered(world: Any, design: str, caplog: Any) -> None:
    def full(_conn: Any, _cursor: Any, statement: str, *_: Any) -> None:
        if statement.startswith("INSERT INTO kept_results"):
            raise OperationalError("invented", {}, Exception("full"))

    event.listen(world.database.engine, "before_cursor_execute", full)
    assert world.mine.steward.get(f"{design}/defaults").status_code == 200
    assert "a result was not kept: OperationalError" in caplog.text


def test_what_is_wrong_is_told_as_ever(world: Any, faults: Any, is_problem: Any) -> None:
    empty = world.mine.steward.make("/designs", {"name": "Invented empty heel"})["id"]
    assert "/sizes" in faults(world.mine.steward.get(f"/designs/{empty}/defaults"))
    is_problem(world.theirs.steward.get(f"/designs/{empty}/defaults"), 404)
    with world.database.read() as session:
        assert session.scalar(select(func.count()).select_from(KeptResult)) == 0


def test_a_page_says_that_it_is_being_worked_out_and_opens_by_itself(
    world: Any,
) -> None:
    with world.app.test_request_context("/groups/x/designs/y"):
        told = results._come_back(results.Pending())
    assert told.status_code == 202
    assert 'http-equiv="refresh"' in told.get_data(as_text=True)
    assert 'href="/groups/x/designs/y' in told.get_data(as_text=True)
