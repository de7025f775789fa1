"""One at a time, among threads and among processes."""

from __future__ import annotations

from threading import Event, Thread

import pytest

from models.domain.errors import Busy
from models.tables import alone as turns
from models.tables.alone import alone
from models.tables.engine import Database


class Asked:
    """Counts how often somebody who waits was asked whether to go on."""

    def __init__(self, most: int = 1000) -> None:
        self.times, self._most = 0, most

    def __call__(self) -> None:
        self.times += 1
        if self.times > self._most:
            raise InterruptedError


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(turns, "SECONDS_BETWEEN_LOOKS", 0.01)


def test_who_comes_second_waits_and_goes_on_after_the_first(database: Database) -> None:
    asked, order, held = Asked(), [], Event()

    def second() -> None:
        with alone(database, "one", asked):
            order.append("second")

    with alone(database, "one", Asked()):
        waiting = Thread(target=second)
        waiting.start()
        while asked.times < 3:
            held.wait(0.01)
        order.append("first")
    waiting.join(10)
    assert order == ["first", "second"]


def test_other_things_do_not_wait(database: Database) -> None:
    asked = Asked(most=0)
    with alone(database, "one", asked), alone(database, "another", asked):
        assert asked.times == 0


def test_who_has_waited_long_enough_is_told_so(database: Database) -> None:
    with alone(database, "one", Asked()), pytest.raises(Busy, match="just now"):
        with alone(database, "one", Asked(), patience_s=0.05):
            pytest.fail("two at once")


def test_what_is_raised_while_waiting_or_inside_lets_others_go_on(database: Database) -> None:
    with alone(database, "one", Asked()), pytest.raises(InterruptedError):
        with alone(database, "one", Asked(most=2)):
            pytest.fail("two at once")
    with pytest.raises(ZeroDivisionError), alone(database, "one", Asked()):
        raise ZeroDivisionError
    with alone(database, "one", Asked(most=0)):
        pass
