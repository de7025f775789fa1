"""Long arithmetic apart: where it runs, what it raises, and how it ends. All rows are invented."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from threading import Thread
from typing import Any

import pytest

from models.actions.actor import operator
from models.domain.errors import Fault, Invalid, Unavailable
from models.tables.alone import alone
from models.tables.engine import Database
from service.apart import POLITENESS, Apart, Here
from service.calibrating import calibrated

PATIENCE_S = 60
NOWHERE = "sqlite://"


class CalledOff(Exception):
    pass


@pytest.fixture
def arithmetic(monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.syspath_prepend(str(Path(__file__).parent))
    import arithmetic  # noqa: PLC0415 -- other processes find it where this one has just been told

    return arithmetic


def is_there(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def until(found: Callable[[], Any]) -> Any:
    patience = time.monotonic() + PATIENCE_S
    while not (what := found()):
        assert time.monotonic() < patience, "it never came to that"
        time.sleep(0.02)
    return what


def noted(note: Path) -> int:
    """Return the process that a note names, 0 where there is none yet."""
    return int(note.read_text() or 0) if note.exists() else 0


def test_it_runs_in_another_process_of_lower_priority_on_the_same_database(
    database_url: str, arithmetic: Any
) -> None:
    process, niceness, url = Apart(database_url, 1).run(arithmetic.where)
    assert process != os.getpid()
    assert niceness == max(os.nice(0), POLITENESS)
    assert url == database_url


def test_what_was_loaded_is_not_looked_through_and_so_stays_shared(arithmetic: Any) -> None:
    looked_through, left_out = Apart(NOWHERE, 1).run(arithmetic.garbage)
    assert looked_through < left_out


def test_what_it_raises_is_raised_where_it_was_asked_for(arithmetic: Any) -> None:
    with pytest.raises(Invalid) as refused:
        Apart(NOWHERE, 1).run(arithmetic.refused)
    assert refused.value.faults == (Fault("group", 7, "a name"),)


def test_a_process_that_vanishes_is_told_as_such(arithmetic: Any) -> None:
    with pytest.raises(Unavailable, match="ended from outside"):
        Apart(NOWHERE, 1).run(arithmetic.vanish)


def test_where_it_broke_is_logged_without_what_was_sent(arithmetic: Any, tmp_path: Path) -> None:
    begin = partial(arithmetic.log_to, str(tmp_path / "log"))
    with pytest.raises(LookupError):
        Apart(NOWHERE, 1, begin).run(arithmetic.broken)
    told = (tmp_path / "log").read_text()
    assert "in broken" in told
    assert "somebody's words" not in told


def test_what_it_had_on_disk_goes_with_it(arithmetic: Any, tmp_path: Path) -> None:
    note = tmp_path / "file"

    def heard() -> None:
        if note.exists() and note.read_text():
            assert Path(note.read_text()).exists()
            raise CalledOff

    with pytest.raises(CalledOff):
        Apart(NOWHERE, 1).run(partial(arithmetic.littering, note=str(note)), heard)
    assert not Path(note.read_text()).exists()


def test_a_terminal_or_a_service_manager_does_not_end_it(arithmetic: Any, tmp_path: Path) -> None:
    note, told = tmp_path / "process", []

    def heard() -> None:
        if noted(note) and not told:
            for number in (signal.SIGINT, signal.SIGTERM):
                os.kill(noted(note), number)
            told.append(time.monotonic())
        if told and time.monotonic() > told[0] + 1:
            assert is_there(noted(note))
            raise CalledOff

    with pytest.raises(CalledOff):
        Apart(NOWHERE, 1).run(partial(arithmetic.long, note=str(note)), heard)


def test_who_is_alone_is_so_among_all_processes(
    database: Database, database_url: str, arithmetic: Any
) -> None:
    room, has_turn = Apart(database_url, 1), partial(arithmetic.has_turn, what="one")
    with alone(database, "one", lambda: None):
        assert not room.run(has_turn)
        assert room.run(partial(arithmetic.has_turn, what="another"))
    assert room.run(has_turn)


def test_it_is_killed_where_nobody_wants_it_any_more(arithmetic: Any, tmp_path: Path) -> None:
    note = tmp_path / "process"

    def heard() -> None:
        if noted(note):
            raise CalledOff

    room = Apart(NOWHERE, 1)
    with pytest.raises(CalledOff):
        room.run(partial(arithmetic.long, note=str(note)), heard)
    until(lambda: not is_there(noted(note)))
    assert room.run(arithmetic.where)[0] != noted(note), "its turn was given back"


def test_who_waits_for_a_turn_is_asked_whether_to_go_on(arithmetic: Any, tmp_path: Path) -> None:
    note, room, over = tmp_path / "process", Apart(NOWHERE, 1), []

    def until_over() -> None:
        if over:
            raise CalledOff

    def first() -> None:
        with pytest.raises(CalledOff):
            room.run(partial(arithmetic.long, note=str(note)), until_over)

    def at_once() -> None:
        raise CalledOff

    busy = Thread(target=first)
    busy.start()
    until(lambda: noted(note))
    with pytest.raises(CalledOff):
        room.run(arithmetic.where, at_once)
    over.append(True)
    busy.join(PATIENCE_S)
    assert not busy.is_alive()


def test_it_ends_with_a_server_that_is_killed(arithmetic: Any, tmp_path: Path) -> None:
    note = tmp_path / "process"
    told = (
        "from functools import partial\n"
        "import arithmetic\n"
        "from service import apart\n"
        "apart.LOADED = ()\n"
        f"apart.Apart({NOWHERE!r}, 1).run(partial(arithmetic.long, note={str(note)!r}))\n"
    )
    path = os.pathsep.join([str(Path(__file__).parent), *filter(None, sys.path)])
    server = subprocess.Popen([sys.executable, "-c", told], env={**os.environ, "PYTHONPATH": path})
    try:
        until(lambda: noted(note))
    finally:
        server.send_signal(signal.SIGKILL)
        server.wait()
    until(lambda: not is_there(noted(note)))


def test_who_waits_too_long_for_a_turn_is_refused(arithmetic: Any, tmp_path: Path) -> None:
    note, room = tmp_path / "process", Apart(NOWHERE, 1, patience_s=0)
    busy = Thread(target=suppressed, args=(room, partial(arithmetic.long, note=str(note)), note))
    busy.start()
    until(lambda: noted(note))
    with pytest.raises(Unavailable, match="others"):
        room.run(arithmetic.where)
    note.write_text("")
    busy.join(PATIENCE_S)
    assert not busy.is_alive()


def test_what_goes_on_ends_with_its_workroom(arithmetic: Any, tmp_path: Path) -> None:
    note, room, told = tmp_path / "process", Apart(NOWHERE, 1), []

    def work() -> None:
        with pytest.raises(Unavailable) as refused:
            room.run(partial(arithmetic.long, note=str(note)))
        told.append(str(refused.value))

    working = Thread(target=work)
    working.start()
    until(lambda: noted(note))
    room.close()
    working.join(PATIENCE_S)
    assert told == ["this process is about to end: try again"]
    until(lambda: not is_there(noted(note)))
    with pytest.raises(Unavailable, match="about to end"):
        room.run(arithmetic.where)


def suppressed(room: Apart, work: Any, note: Path) -> None:
    """Work until the note is empty again."""
    began: list[int] = []

    def heard() -> None:
        began.append(noted(note))
        if any(began) and not noted(note):
            raise CalledOff

    with suppress(CalledOff):
        room.run(work, heard)


def test_a_calibration_apart_is_the_one_made_here(world: Any, database_url: str) -> None:
    for n in range(12):
        world.mine.steward.make(
            "/reports", world.report(reporter=f"Invented {n}", fit_score=n % 5 - 2)
        )
    calibrate = partial(calibrated, actor=operator(world.mine.steward.group_id))
    here = Here(world.database).run(calibrate)
    apart = Apart(database_url, 1).run(calibrate)
    assert apart.fitted.to_json() == here.fitted.to_json(), "floats are equal bit for bit"
    assert apart.people == here.people


def test_requests_calibrate_and_erase_apart(world: Any, app: Any, database_url: str) -> None:
    app.extensions["heeldepth_workroom"] = Apart(database_url, 1)
    steward = world.mine.steward
    for name in ("Alder", "Birch"):
        steward.make("/reports", world.report(reporter=name))
    assert steward.make("/calibrations", {})["reports"] == 2
    [alder] = [one["id"] for one in steward.items("/members") if one["name"] == "Alder"]
    done = steward.delete(f"/reporters/{alder}").json
    assert (done["reports"], len(done["calibrated"])) == (1, 1)
    assert steward.make("/calibrations", {})["reports"] == 1
