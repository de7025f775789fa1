"""Names that people cannot tell apart are one member's, or nobody's. All names are invented."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.actions.look_alikes import skeleton
from models.domain.texts import name_key, stored_text
from models.tables.people import Member
from service.uploads import CSV

FACES = {
    "zero width space": "Ki\u200btty",
    "soft hyphen": "Ki\u00adtty",
    "right to left": "\u202eyttiK\u202c",
    "joiner": "Ki\u200dtty",
    "byte order mark": "Kitty\ufeff",
    "line separator": "Ki\u2028tty",
}
LOOK_ALIKES = {
    "Cyrillic": "K\u0456tty",
    "Greek": "\u039aitty",
}
SAME = ("kitty", "KITTY", "  Kitty ", "\uff2bitty")


@pytest.fixture
def joins(world: Any) -> Any:
    """Return a function that has somebody new join `mine` under a name."""

    def join(name: str) -> Any:
        code = world.mine.steward.make("/invitations")["code"]
        body = {"name": name, "consent_version": 3}
        return world.client.post(f"/v1/invitations/{code}/acceptance", json=body)

    return join


@pytest.mark.parametrize("face", FACES)
def test_what_is_not_seen_is_in_no_name(joins: Any, world: Any, faults: Any, face: str) -> None:
    assert "/name" in faults(joins(FACES[face]))
    told = world.mine.steward.post("/reports", world.report(reporter=FACES[face]))
    assert "/reporter" in faults(told)
    assert "/name" in faults(world.mine.steward.post("/designs", {"name": FACES[face]}))


@pytest.mark.parametrize("name", [*SAME, "ki  tty"])
def test_capitals_width_and_spaces_make_no_other_name(joins: Any, faults: Any, name: str) -> None:
    first = "Ki tty" if name == "ki  tty" else "Kitty"
    assert joins(first).status_code == 201
    assert "somebody in the group has that name" in faults(joins(name))["/name"]


@pytest.mark.parametrize("name", LOOK_ALIKES.values(), ids=LOOK_ALIKES)
def test_five_with_one_face_do_not_join(joins: Any, world: Any, faults: Any, name: str) -> None:
    assert joins("Kitty").status_code == 201
    assert "looks like Kitty" in faults(joins(name))["/name"]
    told = world.mine.steward.post("/reports", world.report(reporter=name))
    assert "looks like Kitty" in faults(told)["/reporter"]
    assert world.theirs.steward.post("/reports", world.report(reporter=name)).status_code == 201


def test_who_comes_back_takes_no_name_that_looks_like_another(
    world: Any, joins: Any, faults: Any
) -> None:
    knitter = world.mine.knitter
    assert joins("Kitty").status_code == 201
    assert knitter.delete("/members/me").status_code == 204

    def back(name: str) -> Any:
        code = world.mine.steward.make("/invitations")["code"]
        return knitter.post(
            f"/v1/invitations/{code}/acceptance", {"name": name, "consent_version": 3}
        )

    for name in ("kitty", LOOK_ALIKES["Cyrillic"]):
        assert "/name" in faults(back(name))
    assert back("KESTREL").status_code == 201, "one's own name, spelt otherwise"


def test_a_reporter_is_found_whatever_the_capitals(world: Any) -> None:
    steward = world.mine.steward
    for name in ("Fulmar", "fulmar", " FULMAR "):
        steward.make("/reports", world.report(reporter=name))
    code = steward.post("/invitations", {"reporter": "fulMAR"})
    assert code.status_code == 201
    with world.database.read() as session:
        assert session.query(Member).filter(Member.name.in_(["Fulmar", "fulmar"])).count() == 1


def test_a_file_finds_the_same_people_and_asks_about_look_alikes(world: Any) -> None:
    steward = world.mine.steward
    steward.make("/reports", world.report(reporter="Fulmar"))
    head, row = world.report_table().splitlines()
    sheet = [head]
    for number, name in enumerate(("fulmar", "Fu\u217cmar", "Petrel", "petrel", "P\u0435trel")):
        cells = row.split(",")
        cells[0], cells[1] = name, str(240 + number)
        sheet.append(",".join(cells))
    sent = {"data": "\n".join(sheet).encode(), "content_type": CSV}
    told = steward.ask("POST", "/imports?keep_good=true", **sent).json
    wrong = {one["row"]: one["errors"][0]["wanted"] for one in told["rows"] if one["errors"]}
    assert set(wrong) == {6}, "the third row is Fulmar in one more font, and is so"
    assert "looks like Petrel" in wrong[6]
    assert told["taken"] == 4
    with world.database.read() as session:
        names = {row.name for row in session.query(Member).filter_by(group_id=steward.group_id)}
    assert names == {"Ottoline", "Kestrel", "Fulmar", "Petrel"}


@pytest.mark.parametrize(
    "name",
    [
        "\u0915\u094d\u200d\u0937\u092e\u093e",  # Devanagari: a joiner after a virama
        "\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645",  # Persian: one that keeps apart
    ],
)
def test_joiners_are_taken_where_a_script_needs_them(joins: Any, name: str) -> None:
    assert joins(name).status_code == 201


def test_notes_have_lines_and_do_not_turn_what_follows() -> None:
    assert stored_text("two\nlines", 20, lines=True) == "two\nlines"
    assert stored_text("a \u202eb", 20, lines=True) is None
    assert stored_text("a \u2067b\u2069", 20, lines=True) is None


@given(st.text(st.characters(exclude_categories=["Cc", "Cs"]), min_size=1, max_size=20))
@settings(deadline=None)
def test_names_with_one_key_have_one_skeleton_once_their_case_is_one(name: str) -> None:
    for other in (f"  {name} ", name.replace(" ", "  ")):
        assert name_key(other) == name_key(name)
    assert skeleton(name_key(name)) == skeleton(name_key(f" {name}"))


def test_the_standards_own_examples_look_alike() -> None:
    """Compare with Unicode Technical Standard 39, revision 28, sections 4 and 4.1 (from memory)."""
    for one, other in (
        ("paypal", "p\u0430ypal"),
        ("top", "t\u043ep"),
        ("scope", "\u0455\u0441\u043e\u0440\u0435"),
    ):
        assert skeleton(one) == skeleton(other)
    assert skeleton("scope") != skeleton("slope")
