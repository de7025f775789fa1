"""Files of invented reports over HTTP: answered row by row, or done as a job."""

from __future__ import annotations

import csv
import io
import json
import socket
import zipfile
from threading import BoundedSemaphore
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from sqlalchemy import event
from werkzeug.test import Client

from models.domain.report_columns import EXAMPLE
from models.domain.reports import OPTIONAL_COLUMNS, USUAL_COLUMNS
from seed_demo.server import HOST, running
from service import uploads
from service.app import create_app
from service.imported import AT_ONCE
from service.uploads import CSV, ODS, XLS, XLSX

SOUND = {**{name: EXAMPLE[name] for name in USUAL_COLUMNS}, "reporter": "Alder"}


def table(*changes: dict[str, Any], separator: str = ",") -> bytes:
    """Return a CSV file of sound reports, each with some cells changed."""
    names = list(dict.fromkeys([*SOUND, *(name for one in changes for name in one)]))
    out = io.StringIO()
    rows = [[{**SOUND, **one}.get(name, "") for name in names] for one in changes]
    csv.writer(out, delimiter=separator).writerows([names, *rows])
    return out.getvalue().encode()


def different(number: int) -> list[dict[str, Any]]:
    """Return changes that make so many reports that all differ."""
    return [{"slow_decrease_rounds": n % 5, "notes": f"invented {n}"} for n in range(number)]


@pytest.fixture
def send(world: Any) -> Any:
    """Return a function that sends a file as the steward."""

    def sent(content: bytes, query: str = "", kind: str = CSV, who: Any = None, **headers: str):
        spelt = {name.replace("_", "-"): value for name, value in headers.items()}
        options = {"data": content, "content_type": kind, "headers": spelt}
        return (who or world.mine.steward).ask("POST", f"/imports{query}", **options)

    return sent


def reports(world: Any) -> int:
    return len(world.mine.steward.items("/reports"))


def test_a_short_file_is_taken_in_and_answered_row_by_row(world, send) -> None:
    answer = send(table({}, {}, {"stitches_per_10cm": 20}))
    assert answer.status_code == 207
    told = answer.json
    assert (told["taken"], told["known"], told["left_out"], told["dry_run"]) == (3, 0, 0, False)
    assert [(row["row"], row["state"]) for row in told["rows"]] == [
        (2, "taken"),
        (3, "taken"),
        (4, "taken"),
    ]
    assert [row["doubts"] == [] for row in told["rows"]] == [True, True, False]
    assert told["rows"][2]["doubts"][0]["pointer"] == "/rows/4/rounds_per_10cm"
    again = send(table({}, {}, {"stitches_per_10cm": 20}, {"fit_score": 2}))
    assert [row["state"] for row in again.json["rows"]] == ["known", "known", "known", "taken"]
    assert reports(world) == 4


def test_a_wrong_row_keeps_all_out_and_says_row_column_value_and_what_is_right(
    world, send, faults
) -> None:
    wrong = table({}, {"fit_score": 9}, {"heel_stitches": "sixty", "foot_length_mm": 25})
    assert faults(send(wrong)) == {
        "/rows/3/fit_score": "it must be a whole number from -2 to 2",
        "/rows/4/heel_stitches": "it must be a whole number from 8 to 400 (stitches)",
        "/rows/4/foot_length_mm": "it must be a number from 60 to 400 (mm); "
        "looks like centimetres given as millimetres: 25 would be 250 mm",
    }
    assert send(wrong).json["errors"][0]["value"] == 9
    assert reports(world) == 0


def test_good_rows_are_kept_where_that_is_asked_for(world, send) -> None:
    told = send(table({}, {"fit_score": 9}), "?keep_good=true").json
    assert (told["taken"], told["left_out"]) == (1, 1)
    assert [row["state"] for row in told["rows"]] == ["taken", "wrong"]
    assert told["rows"][1]["errors"][0]["pointer"] == "/rows/3/fit_score"
    assert reports(world) == 1


def test_a_dry_run_says_what_would_be_done_and_changes_nothing(world, send) -> None:
    send(table({}))
    wrong = table({}, {"fit_score": 1}, {"fit_score": 9, "reporter": "Birch"})
    for query, taken, states in (
        ("?dry_run=true", 0, ["known", "left out", "wrong"]),
        ("?dry_run=true&keep_good=true", 1, ["known", "taken", "wrong"]),
    ):
        told = send(wrong, query).json
        assert (told["dry_run"], told["taken"], told["left_out"]) == (True, taken, 1)
        if "keep" in query:
            assert [row["state"] for row in told["rows"]] == states
    assert reports(world) == 1
    assert [one["name"] for one in world.mine.steward.items("/members")] == [
        "Ottoline",
        "Kestrel",
        "Alder",
    ]


def test_other_units_decimal_commas_and_semicolons_are_read(world, send) -> None:
    text = table({"foot_length_mm": "24,8", "rounds_per_10cm": "42,5"}, separator=";").decode()
    assert send(text.replace("foot_length_mm", "foot_length_cm").encode()).json["taken"] == 1
    (report,) = world.mine.steward.items("/reports")
    assert report["rounds_per_10cm"] == 42.5
    (foot,) = world.mine.steward.items("/feet")
    assert foot["foot_length_mm"] == 248


def test_a_workbook_is_read_by_the_same_rules(world, send, faults) -> None:
    book = Workbook()
    for row in ([*SOUND], [*SOUND.values()], [*{**SOUND, "fit_score": 9}.values()]):
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    assert list(faults(send(out.getvalue(), kind=XLSX))) == ["/rows/3/fit_score"]
    assert send(out.getvalue(), "?keep_good=true", XLSX).json["taken"] == 1
    assert reports(world) == 1


def test_a_row_of_somebody_who_has_joined_is_wrong_and_one_of_oneself_is_not(
    world, send, faults
) -> None:
    found = faults(send(table({"reporter": "Ottoline"}, {"reporter": "Kestrel"})))
    assert list(found) == ["/rows/3/reporter"]
    assert found["/rows/3/reporter"].startswith("has joined the group")
    assert send(table({"reporter": "Ottoline"})).json["taken"] == 1


@pytest.mark.parametrize(
    ("content", "pointer"),
    [
        (b"", "/file"),
        (b"colour\nred\n", "/heading"),
        (table({}).replace(b"fit_score", b"fit"), "/heading"),
        (b"\xff\xfe" + table({}), "/file"),
        (table({"notes": "x"}).replace(b",x", b",\xed\xa0\x80"), "/file"),  # a lone surrogate
        (table({}) + b'Alder,"', "/file"),
        (table({}).replace(b"Alder", b"Al\0der"), "/rows/2/reporter"),
        (table({"foot_length_mm": "NaN"}), "/rows/2/foot_length_mm"),
        (table({"foot_length_mm": "1e400"}), "/rows/2/foot_length_mm"),
        (table({"heel_stitches": 10**30}), "/rows/2/heel_stitches"),
        (table({"fit_score": "=1+1"}), "/rows/2/fit_score"),
        (b"PK\x03\x04 no workbook", "/file"),
    ],
)
def test_hostile_files_are_refused_by_name_and_leave_nothing(
    world, send, faults, content: bytes, pointer: str
) -> None:
    assert pointer in faults(send(content))
    assert reports(world) == 0


def test_other_media_types_are_refused(send, is_problem) -> None:
    is_problem(send(b"{}", kind="application/json"), 415)


@pytest.mark.parametrize("query", ["?dry_run=yes", "?keep_good=", "?colour=red"])
def test_options_that_are_none_are_refused(send, faults, query: str) -> None:
    assert faults(send(table({}), query))


def test_a_file_may_be_longer_than_other_bodies_but_not_than_its_own_limit(
    world, send, is_problem
) -> None:
    most = world.app.config["HEELDEPTH"]
    long = table(*[{"notes": "x" * 2000}] * (most.most_body_bytes // 2000 + 50))
    assert len(long) > most.most_body_bytes
    assert send(long, Idempotency_Key="long").status_code == 202
    assert send(long, Idempotency_Key="long").headers["Idempotent-Replay"] == "true"
    told = is_problem(send(b"x" * (most.most_upload_bytes + 1)), 413)
    assert f"{most.most_upload_bytes:,} bytes" in told["detail"]


def test_the_same_key_twice_imports_once_and_another_file_with_it_is_refused(
    world, send, is_problem
) -> None:
    content = table({"heel_diagonal_mm": ""})
    first, again = (send(content, Idempotency_Key="one") for _ in range(2))
    assert (first.status_code, again.status_code) == (207, 207)
    assert first.data == again.data
    assert again.headers["Idempotent-Replay"] == "true"
    assert reports(world) == 1
    is_problem(send(table({}), Idempotency_Key="one"), 422)
    is_problem(send(content, "?dry_run=true", Idempotency_Key="one"), 422)


def test_five_hundred_rows_are_answered_at_once_and_one_more_is_a_job(world, send) -> None:
    at_once = send(table(*different(AT_ONCE)) + b"\n ,\n")
    assert (at_once.status_code, at_once.json["taken"]) == (207, AT_ONCE)
    longer = send(table(*different(AT_ONCE + 1)))
    assert longer.status_code == 202
    assert (longer.json["kind"], longer.json["state"]) == ("import", "queued")
    world.work()
    done = world.mine.steward.get(longer.headers["Location"]).json
    assert (done["state"], done["done"]) == ("done", done["total"])
    assert (done["result"]["taken"], done["result"]["known"]) == (1, AT_ONCE)


def test_a_long_file_behind_an_endless_cell_is_a_job_all_the_same(world, send) -> None:
    rows = [{"slow_decrease_rounds": 1, "notes": "x" * 200_000}, *different(AT_ONCE + 1)]
    asked = send(table(*rows), "?keep_good=true")
    assert asked.status_code == 202
    world.work()
    done = world.mine.steward.get(asked.headers["Location"]).json["result"]
    assert (done["left_out"], done["taken"]) == (1, AT_ONCE + 1)


def test_a_long_file_with_wrong_headings_is_refused_at_once(send, faults) -> None:
    content = table(*different(AT_ONCE + 1)).replace(b"fit_score", b"score")
    assert "/heading" in faults(send(content))


def test_a_template_can_be_read_by_everybody_and_sent_as_it_is(world, send) -> None:
    for form, kind in (("csv", CSV), ("xlsx", XLSX)):
        answer = world.client.get(f"/v1/import-template?form={form}")
        assert (answer.status_code, answer.mimetype) == (200, kind)
        assert f'filename="reports.{form}"' in answer.headers["Content-Disposition"]
        assert send(answer.data, "?dry_run=true", kind).json["taken"] == 1
    assert load_workbook(io.BytesIO(answer.data)).sheetnames == ["reports", "columns"]
    headings = world.client.get("/v1/import-template").text.splitlines()[0]
    assert headings == ",".join((*USUAL_COLUMNS, *OPTIONAL_COLUMNS))


@pytest.mark.parametrize(
    ("framing", "body"),
    [
        ("Content-Length: {more}", "{content}"),
        ("Transfer-Encoding: chunked", "{size:x}\r\n{content}\r\n"),
        ("Transfer-Encoding: chunked", "{more:x}\r\n{content}"),
    ],
    ids=["shorter than its length", "without a last chunk", "cut in a chunk"],
)
def test_an_upload_that_is_cut_off_is_not_taken_in(world, framing: str, body: str) -> None:
    content = table(*different(40)).decode()
    numbers = {"size": len(content), "more": len(content) + 200, "content": content}
    with running(world.app.config["HEELDEPTH"]) as port:
        with socket.create_connection((HOST, port), timeout=10) as connection:
            steward = world.mine.steward
            head = (
                f"POST /v1/groups/{steward.group_id}/imports HTTP/1.1\r\nHost: {HOST}\r\n"
                f"Authorization: Bearer {steward.token}\r\nContent-Type: {CSV}\r\n"
                f"{framing.format(**numbers)}\r\n\r\n"
            )
            connection.sendall((head + body.format(**numbers)).encode())
            connection.shutdown(socket.SHUT_WR)
            answer = connection.recv(1000)
    assert not answer.startswith(b"HTTP/1.1 2")
    assert reports(world) == 0
    assert steward.items("/jobs") == []


def test_a_server_that_passes_on_cut_bodies_is_found_out(world, send, is_problem) -> None:
    content = table(*different(3))
    options = {"data": content, "content_type": CSV, "headers": {}}
    told = {"CONTENT_LENGTH": str(len(content) + 1)}
    answer = world.mine.steward.ask("POST", "/imports", **options, environ_overrides=told)
    is_problem(answer, 400)
    assert reports(world) == 0


def test_exports_go_into_an_empty_server_and_come_out_byte_by_byte_the_same(
    world, send, tmp_path_factory, migrated_file
) -> None:
    awkward = [{"notes": text} for text in ("=1+1", "'-2", "two\nlines", "24,5;", '"')]
    safe = [
        {"notes": f"'{one['notes']}" if one["notes"][0] in "='" else one["notes"]}
        for one in awkward
    ]
    send(table(*different(20), *safe, {"heel_diagonal_mm": "", "foot_length_mm": 247.25}))
    for form, kind in (("csv", CSV), ("xlsx", XLSX)):
        exported = {
            f: world.mine.steward.get(f"/exports?form={f}").data for f in ("csv", "xlsx", "jsonl")
        }
        file = tmp_path_factory.mktemp("empty") / "heeldepth.db"
        file.write_bytes(migrated_file.read_bytes())
        app = create_app(type(world.app.config["HEELDEPTH"])(f"sqlite:///{file}"))
        try:
            other = type(world)(app).mine.steward
            options = {"data": exported[form], "content_type": kind}
            assert other.ask("POST", "/imports", **options).json["taken"] == 26
            for each, content in exported.items():
                assert other.get(f"/exports?form={each}").data == content
        finally:
            app.extensions["heeldepth"].close()


def test_lines_of_json_have_numbers_texts_and_nulls(world, send) -> None:
    send(table({"heel_diagonal_mm": "", "notes": "'=1+1"}))
    answer = world.mine.steward.get("/exports?form=jsonl")
    assert answer.mimetype == "application/jsonl"
    line = json.loads(answer.text)
    assert (line["foot_length_mm"], line["heel_diagonal_mm"]) == (248, None)
    assert (line["fit_score"], line["notes"]) == (-1, "=1+1")


def test_a_knitter_exports_her_own_reports_and_nobody_else_s(world, send) -> None:
    send(table({}))
    world.mine.knitter.make("/reports", world.report())
    text = world.mine.knitter.get("/exports").text
    assert [row["reporter"] for row in csv.DictReader(io.StringIO(text))] == ["Kestrel"]
    text = world.mine.steward.get("/exports").text
    assert [row["reporter"] for row in csv.DictReader(io.StringIO(text))] == ["Alder"]


def test_a_token_for_reading_does_not_export_what_stewards_wrote_down(world, send) -> None:
    send(table({}))
    body = {"label": "narrow", "scopes": ["read"]}
    made = world.mine.steward.make("/v1/tokens", body)["token"]
    narrow = type(world.mine.steward)(**{**vars(world.mine.steward), "token": made})
    assert len(narrow.get("/exports").text.splitlines()) == 1
    job = narrow.post("/exports").headers["Location"]
    world.work()
    assert len(world.mine.steward.get(f"{job}/file").text.splitlines()) == 1


def test_few_rows_of_many_bytes_are_a_job(world, send) -> None:
    rows = [{"notes": "x" * 1900, "slow_decrease_rounds": n % 4} for n in range(AT_ONCE)]
    longer = send(table(*rows, {"notes": "x" * 100_000}), "?keep_good=true")
    assert longer.status_code == 202
    world.work()
    result = world.mine.steward.get(longer.headers["Location"]).json["result"]
    assert (result["taken"], result["left_out"]) == (AT_ONCE, 1)


def book_of(size: int) -> bytes:
    """Return a workbook of one sound report, and of so many bytes of something else."""
    book, out = Workbook(), io.BytesIO()
    for row in ([*SOUND], [*SOUND.values()]):
        book.active.append(row)
    book.save(out)
    with zipfile.ZipFile(out, "a", zipfile.ZIP_DEFLATED) as parts:
        with parts.open("xl/media/picture.png", "w") as part:
            for _ in range(size // 1_000_000):
                part.write(b"\x89" * 1_000_000)
    return out.getvalue()


def far_cell() -> bytes:
    """Return a small workbook that asks for a very large sheet."""
    book, out = Workbook(), io.BytesIO()
    book.active["XFD1048576"] = 1
    book.save(out)
    return out.getvalue()


def test_a_workbook_is_read_whatever_else_is_in_it_and_a_hostile_one_is_refused(
    world, send, faults
) -> None:
    assert send(book_of(9_000_000), kind=XLSX).status_code == 207
    for kind in (XLSX, XLS, ODS):
        far = faults(send(far_cell(), kind=kind))["/file"]
        assert "delete empty rows and columns" in far or "more than 200,000 rows" in far
    assert "no workbook" in faults(send(b"PK\x03\x04 invented", kind=ODS))["/file"]


def test_whoever_waits_too_long_for_the_files_of_others_is_told_to_come_back(
    world, send, is_problem, monkeypatch
) -> None:
    monkeypatch.setattr(uploads, "_turns", BoundedSemaphore(1))
    monkeypatch.setattr(uploads, "PATIENCE_S", 0.01)
    with uploads.turn_to_read():
        answer = send(table({}))
        is_problem(answer, 503)
        assert answer.headers["Retry-After"] == "1"
    assert send(table({})).status_code == 207


@pytest.mark.parametrize("rows", [1, AT_ONCE + 1])
def test_who_waits_for_the_database_keeps_nobody_from_sending_files(
    world, send, monkeypatch, rows: int
) -> None:
    """Others may write for long: the turn at reading is over before they are waited for."""
    monkeypatch.setattr(uploads, "_turns", BoundedSemaphore(1))
    free: list[bool] = []

    def begun(_connection: Any) -> None:
        free.append(uploads._turns.acquire(blocking=False))
        uploads._turns.release()

    event.listen(world.app.extensions["heeldepth"].engine, "begin", begun)
    assert send(table(*different(rows))).status_code in (202, 207)
    assert free
    assert all(free)


def test_who_takes_files_slowly_leaves_threads_for_others(world, is_problem, monkeypatch) -> None:
    monkeypatch.setitem(world.app.extensions, "heeldepth_sending", BoundedSemaphore(1))
    monkeypatch.setattr(uploads, "PATIENCE_S", 0.01)
    steward = world.mine.steward
    slow = Client(world.app).get(
        f"/v1/groups/{steward.group_id}/exports",
        headers={"Authorization": f"Bearer {steward.token}"},
    )
    is_problem(steward.get("/exports"), 503)
    assert steward.get("/reports").status_code == 200
    slow.close()
    assert steward.get("/exports").text.startswith("reporter,")
    assert steward.get("/exports").text.startswith("reporter,")
