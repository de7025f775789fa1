"""Designs and sizes over HTTP. All designs are invented."""

from __future__ import annotations

from typing import Any

NAME = {"name": "Invented wader heel"}


def made(who: Any, world: Any) -> str:
    """Return the path of a new design with one size."""
    path = f"/designs/{who.make('/designs', NAME)['id']}"
    who.make(f"{path}/sizes", world.size())
    return path


def test_a_design_is_made_read_renamed_and_deleted(world: Any) -> None:
    steward = world.mine.steward
    answer = steward.post("/designs", NAME)
    path = answer.headers["Location"]
    assert steward.get(path).json == answer.json
    renamed = steward.patch(path, {"name": "Invented rail heel"}, If_Match=answer.headers["ETag"])
    assert renamed.json["name"] == "Invented rail heel"
    assert steward.patch(path, NAME, If_Match=answer.headers["ETag"]).status_code == 412
    assert steward.patch(path, NAME).status_code == 428
    assert steward.delete(path, If_Match=renamed.headers["ETag"]).status_code == 204
    assert steward.items("/designs") == []


def test_an_answer_about_a_size_is_forgotten_with_its_design(world: Any) -> None:
    steward = world.mine.steward
    path = made(steward, world)
    body, key = world.size(label="M"), {"Idempotency_Key": "invented key"}
    assert steward.post(f"{path}/sizes", body, **key).status_code == 201
    assert steward.post(f"{path}/sizes", body, **key).headers["Idempotent-Replay"] == "true"
    assert steward.delete(path, If_Match="*").status_code == 204
    assert steward.post(f"{path}/sizes", body, **key).status_code == 404


def test_two_designs_of_a_group_have_two_names(world: Any, faults: Any) -> None:
    steward = world.mine.steward
    steward.make("/designs", NAME)
    assert "already" in faults(steward.post("/designs", NAME))["/name"]
    other = steward.post("/designs", {"name": "Invented tern heel"})
    again = steward.patch(other.headers["Location"], NAME, If_Match=other.headers["ETag"])
    assert "already" in faults(again)["/name"]
    assert world.theirs.steward.make("/designs", NAME)["name"] == NAME["name"]


def test_designers_and_stewards_keep_designs_and_everybody_reads_them(
    world: Any, is_problem: Any
) -> None:
    designer = world.member(world.mine.steward.group_id, "Invented designer", "designer")
    path = made(designer, world)
    knitter = world.mine.knitter
    (size,) = knitter.items(f"{path}/sizes")
    for refused in (
        knitter.post("/designs", {"name": "Invented other"}),
        knitter.post(f"{path}/sizes", world.size(label="L")),
        knitter.patch(f"{path}/sizes/{size['id']}", {"plain_rounds": 2}, If_Match="*"),
        knitter.delete(f"{path}/sizes/{size['id']}", If_Match="*"),
        knitter.patch(path, {"name": "Invented other"}, If_Match="*"),
        knitter.delete(path, If_Match="*"),
    ):
        is_problem(refused, 403)
    assert knitter.items(f"{path}/sizes") == [size]


def test_sizes_keep_their_order_and_can_be_moved(world: Any) -> None:
    steward = world.mine.steward
    path = made(steward, world)
    for label in ("XL", "M"):
        steward.make(f"{path}/sizes", world.size(label=label))
    sizes = steward.items(f"{path}/sizes")
    assert [size["label"] for size in sizes] == ["S", "XL", "M"]
    last = f"{path}/sizes/{sizes[1]['id']}"
    etag = steward.get(last).headers["ETag"]
    assert steward.patch(last, {"position": 9}, If_Match=etag).json["position"] == 9
    assert [size["label"] for size in steward.items(f"{path}/sizes")] == ["S", "M", "XL"]


def test_a_change_that_could_not_be_knitted_changes_nothing(world: Any, faults: Any) -> None:
    steward = world.mine.steward
    path = made(steward, world)
    (before,) = steward.items(f"{path}/sizes")
    one = f"{path}/sizes/{before['id']}"
    etag = steward.get(one).headers["ETag"]
    changed = {"plain_rounds": 4, "closing_stitches": 15}
    assert "60 stitches" in faults(steward.patch(one, changed, If_Match=etag))["/closing_stitches"]
    assert steward.items(f"{path}/sizes") == [before]
    assert "already" in faults(steward.post(f"{path}/sizes", world.size()))["/label"]


def test_a_size_named_in_a_report_waits_at_the_end_until_it_is_completed(world: Any) -> None:
    steward = world.mine.steward
    path = made(steward, world)
    steward.make("/reports", world.report(design=NAME["name"], size="Huge"))
    sizes = steward.items(f"{path}/sizes")
    assert [(size["label"], size["heel_stitches"]) for size in sizes] == [("S", 60), ("Huge", None)]
    completed = steward.make(f"{path}/sizes", world.size(label="Huge"))
    assert completed["id"] == sizes[1]["id"]
    answer = steward.delete(f"{path}/sizes/{completed['id']}", If_Match="*")
    assert (answer.status_code, "reports name" in answer.text) == (409, True)
    assert steward.delete(path, If_Match="*").status_code == 409
