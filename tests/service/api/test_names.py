"""Names that people cannot tell apart are one member's, or nobody's. All names are invented."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from models.actions import leaving
from models.actions.actor import operator
from models.actions.group_names import GroupNames, Named
from models.actions.look_alikes import skeleton
from models.domain.errors import Invalid
from models.domain.texts import stored_text
from models.tables.people import Member
from service.uploads import CSV

FACES = {
    "zero width space": "Ki\u200btty",
    "soft hyphen": "Ki\u00adtty",
    "right to left": "\u202eyttiK\u202c",
    "joiner": "Ki\u200dtty",
    "byte order mark": "Kitty\ufeff",
    "line separator": "Ki\u2028tty",
    "grapheme joiner": "Ki\u034ftty",
    "Hangul filler": "Ki\u3164tty",
    "Hangul filler of half width": "Kitty\uffa0",
    "Khmer vowel that is not shown": "Ki\u17b4tty",
    "unassigned and not shown": "Kitty\U000e0fff",
    "Braille without a dot": "Kitty\u2800",
    "private use": "Ki\ue000tty",
    "selector of nothing": "\ufe0fKitty",
    "selector alone": "\ufe0f",
    "two selectors": "K\ufe0f\ufe0fitty",
}
LOOK_ALIKES = {
    "Cyrillic": "K\u0456tty",
    "Greek": "\u039aitty",
    "Cyrillic, all in capitals": "K\u0406TTY",
    "Cyrillic, all in small letters": "k\u0456tty",
}
SAME = ("kitty", "KITTY", "  Kitty ", "\uff2bitty", "Kitty\ufe0f")


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


@pytest.mark.parametrize(
    ("name", "other"),
    [
        ("Ann Birch", "Ann  Bir\u0441h"),  # two spaces and a Cyrillic letter: one space is shown
        ("Ian", "\u0456an"),  # in small letters "ian", the name in capitals starts with another
        ("Carol", "\u03f9arol"),  # a Greek sigma of old, which is C to who reads it
    ],
)
def test_neither_spaces_nor_capitals_hide_a_look_alike(
    joins: Any, faults: Any, name: str, other: str
) -> None:
    assert joins(name).status_code == 201
    assert f"looks like {name}" in faults(joins(other))["/name"]


@pytest.mark.parametrize(("one", "other"), [("Ian", "Lan"), ("Elia", "Ella"), ("Ali", "All")])
def test_names_of_other_people_are_no_look_alikes(joins: Any, one: str, other: str) -> None:
    assert (joins(one).status_code, joins(other).status_code) == (201, 201)


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


CLASHING = ("Dunlin", "DUNLIN")


@pytest.fixture
def clash(world: Any) -> None:
    """Have names in the group that no two could take today: from before, nobody has joined."""
    with world.database.write.begin() as session:
        for name in (*CLASHING, "OTTOLINE"):
            session.add(Member(group_id=world.mine.steward.group_id, name=name, role="knitter"))


@pytest.mark.usefixtures("clash")
def test_names_that_clash_from_before_mean_whom_they_are_spelt_for(world: Any, faults: Any) -> None:
    steward = world.mine.steward
    for name in (*CLASHING, "OTTOLINE", "Ottoline"):
        told = steward.make("/reports", world.report(reporter=name))
        assert told["reporter"] == name, "the steward is Ottoline"
    wanted = faults(steward.post("/reports", world.report(reporter="dunlin")))["/reporter"]
    assert "write it as Dunlin or DUNLIN" in wanted
    invited = faults(steward.post("/invitations", {"reporter": "dunlin"}))["/reporter"]
    assert "write it as Dunlin or DUNLIN" in invited


@pytest.mark.usefixtures("clash")
def test_a_file_asks_whom_a_name_means_that_clashes_from_before(world: Any) -> None:
    head, row = world.report_table().splitlines()
    names = (*CLASHING, "dunlin", "OTTOLINE")
    sheet = [head, *(",".join((name, *row.split(",")[1:])) for name in names)]
    sent = {"data": "\n".join(sheet).encode(), "content_type": CSV}
    told = world.mine.steward.ask("POST", "/imports?keep_good=true", **sent).json
    wrong = {one["row"]: one["errors"][0]["wanted"] for one in told["rows"] if one["errors"]}
    assert wrong == {4: "more than one has that name: write it as Dunlin or DUNLIN"}
    assert told["taken"] == 3


def test_the_operator_erases_nobody_by_a_name_that_means_two(world: Any, clash: None) -> None:
    with world.database.read() as session:
        actor = operator(world.mine.steward.group_id)
        with pytest.raises(Invalid, match="write it as Dunlin or DUNLIN"):
            leaving.named(session, actor, "dunlin")
        exact = leaving.named(session, actor, "DUNLIN").places[world.mine.steward.group_id]
        names = [session.get_one(Member, member_id).name for member_id in exact]
    assert names == ["DUNLIN"]


@pytest.mark.parametrize(
    "name",
    [
        "\u0915\u094d\u200d\u0937\u092e\u093e",  # Devanagari: a joiner after a virama
        "\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645",  # Persian: one that keeps apart
        "\u0628\u064e\u200c\u06cc\u062e",  # with a mark before it
        "\u845b\U000e0100\u57ce",  # Han: the form of a character in a family's name
    ],
)
def test_joiners_are_taken_where_a_script_needs_them(joins: Any, name: str) -> None:
    assert joins(name).status_code == 201


def test_a_joiner_that_is_not_seen_makes_no_other_name(joins: Any, faults: Any) -> None:
    assert joins("\u062f\u0627\u0631").status_code == 201
    told = faults(joins("\u062f\u0627\u200c\u0631"))
    assert "somebody in the group has that name" in told["/name"]


def test_notes_have_lines_and_do_not_turn_what_follows() -> None:
    assert stored_text("two\nlines", 20, lines=True) == "two\nlines"
    assert stored_text("a \u202eb", 20, lines=True) is None
    assert stored_text("a \u2067b\u2069", 20, lines=True) is None


CYRILLIC = dict(
    zip(
        "aceiopxyABCEHKMOPTXI",
        "\u0430\u0441\u0435\u0456\u043e\u0440\u0445\u0443\u0410\u0412\u0421\u0415\u041d\u041a"
        "\u041c\u041e\u0420\u0422\u0425\u0406",
        strict=True,
    )
)
NAMES = st.text(st.characters(exclude_categories=["Cc", "Cs"]), min_size=1, max_size=20)


@given(NAMES)
@settings(deadline=None)
def test_a_name_and_its_variants_are_one_members(name: str) -> None:
    group = GroupNames()
    group.add(Named("1", name, None))
    for other in (f"  {name} ", name.replace(" ", " \u00a0 "), name.casefold(), f"{name}\u200b"):
        assert group.same(other) is not None
        with pytest.raises(Invalid, match="has that name"):
            group.require_new("name", other)


@given(st.text("acehikopxyABCEHKMOPTXI ", min_size=1, max_size=20).map(str.strip), st.data())
@settings(deadline=None)
def test_five_faces_are_one(name: str, data: st.DataObject) -> None:
    """Letters are replaced by Cyrillic ones (Unicode's confusables.txt, from memory)."""
    assume(name)
    group = GroupNames()
    group.add(Named("1", name, None))
    for _ in range(5):
        face = "".join(data.draw(st.sampled_from([c, CYRILLIC.get(c, c)])) for c in name)
        with pytest.raises(Invalid):
            group.require_new("name", face.replace(" ", "  "))


def test_the_standards_own_examples_look_alike() -> None:
    """Compare with Unicode Technical Standard 39, revision 28, sections 4 and 4.1 (from memory)."""
    for one, other in (
        ("paypal", "p\u0430ypal"),
        ("top", "t\u043ep"),
        ("scope", "\u0455\u0441\u043e\u0440\u0435"),
    ):
        assert skeleton(one) == skeleton(other)
    assert skeleton("scope") != skeleton("slope")
