from __future__ import annotations

from models.domain.reviews import COUNTING, REASONS, STEPS, Reason, Status


def test_every_status_says_what_may_follow_it_and_none_is_final() -> None:
    assert set(STEPS) == set(Status)
    assert all(STEPS[status] and status not in STEPS[status] for status in Status)


def test_a_report_that_was_looked_at_is_never_counted_as_if_it_were_new() -> None:
    assert all(Status.COUNTED not in STEPS[status] for status in (Status.ACCEPTED, Status.REJECTED))


def test_held_and_rejected_reports_do_not_count() -> None:
    assert set(Status) - set(COUNTING) == {Status.HELD, Status.REJECTED}


def test_every_reason_has_words() -> None:
    assert set(REASONS) == set(Reason)
