"""Files as programs write them, and files that are no table of reports. All rows are invented."""

from __future__ import annotations

import csv

import pytest

from models.actions.csv_chunks import read_chunks
from models.actions.csv_extent import BYTES_AT_ONCE, LONGEST_ROW
from models.actions.import_reports import LAYOUT
from models.domain.errors import Invalid
from models.domain.foot import MEASUREMENTS

UNITS = {"cm": 10, "in": 25.4}


def refused(sheets, content: str | bytes) -> str:
    """Return what is said of a file that cannot be read as a whole."""
    with pytest.raises(Invalid) as error:
        sheets.faults(content)
    return str(error.value)


@pytest.mark.parametrize("content", ["", "\n", "  \n \n", "\r\n\r\n", b"\xef\xbb\xbf"])
def test_an_empty_file_is_refused(sheets, content: str | bytes) -> None:
    assert "it is empty; the first row must be headings" in refused(sheets, content)


@pytest.mark.parametrize("after", ["", "\n", "\n\n  \n\n", "\n" + "," * 13 + "\n"])
def test_headings_alone_are_refused(sheets, after: str) -> None:
    assert "it has headings but no rows" in refused(sheets, sheets.headings + after)


def test_a_missing_column_is_named(sheets) -> None:
    content = sheets.of({}).replace(",fit_score", "").replace(",0\n", "\n")
    assert refused(sheets, content) == "fit_score is missing: the file needs a column fit_score"


@pytest.mark.parametrize(
    ("heading", "said"),
    [
        ("heel_diag_mm", "heading is 'heel_diag_mm': did you mean heel_diagonal_mm?"),
        ("note", "heading is 'note': did you mean notes?"),
        ("Knitted On", "heading is 'Knitted On': did you mean knitted_on?"),
        ("foot_length_ft", "heading is 'foot_length_ft': did you mean foot_length_mm?"),
        ("colour", "heading is 'colour': columns are reporter, foot_length_mm, "),
        ("", "heading is '': columns are reporter, foot_length_mm, "),
        ("fit_score", "heading is 'fit_score': fit_score gives the same; keep one of them"),
        ("foot_length_cm", "'foot_length_cm': foot_length_mm gives the same; keep one of them"),
        ("\x1b[2J", "heading is '\\x1b[2J': columns are "),
    ],
)
def test_a_column_too_many_is_named_with_the_closest_one(sheets, heading: str, said: str) -> None:
    assert said in refused(sheets, f"{sheets.headings},{heading}\n{sheets.line},1\n")


def test_all_wrong_headings_are_named_at_once(sheets) -> None:
    content = sheets.of({}).replace("heel_stitches", "stiches").replace("yarn_weight", "weight")
    assert refused(sheets, content).count("heading is") == 2


@pytest.mark.parametrize("unit", UNITS)
def test_lengths_may_be_in_centimetres_or_inches(sheets, unit: str) -> None:
    names = [name for name in sheets.sound if name.endswith("_mm")]
    row = {name: sheets.sound[name] / UNITS[unit] for name in names}
    assert sheets.faults(sheets.of(row).replace("_mm", f"_{unit}")) == []


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ("250", "250"),
        ("-4", "-4"),
        ("abc", "'abc'"),
        ("", "missing"),
    ],
)
@pytest.mark.parametrize(("unit", "limits"), [("cm", "6 to 40"), ("in", "2.4 to 15.7")])
def test_faults_name_the_column_and_the_unit_of_the_file(
    sheets, cell: str, said: str, unit: str, limits: str
) -> None:
    heading = f"foot_length_{unit}"
    content = sheets.of({"foot_length_mm": cell}).replace("foot_length_mm", heading)
    told = f"row 2: {heading} is {said}: it must be a number from {limits} ({unit})"
    assert sheets.faults(content) == [told]


def test_measurements_that_may_be_empty_may_have_no_column(sheets) -> None:
    whole = sheets.of({"heel_diagonal_mm": "", "ankle_circumference_mm": ""})
    rows = [*csv.reader(whole.splitlines())]
    optional = {quantity.name for quantity in MEASUREMENTS if not quantity.required}
    kept = [n for n, name in enumerate(rows[0]) if name not in optional]
    assert len(kept) == len(rows[0]) - 2
    without = "\n".join(",".join(row[n] for n in kept) for row in rows)
    assert sheets.faults(without) == sheets.faults(whole) == []


def test_measurements_that_every_foot_needs_must_have_a_column(sheets) -> None:
    lacking = sheets.of({}).replace("foot_length_mm", "design")
    said = "foot_length_mm is missing: the file needs a column foot_length_mm"
    assert refused(sheets, lacking) == said


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_marks_line_ends_and_separators_are_taken_as_they_come(
    sheets, end: str, mark: bytes, separator: str
) -> None:
    content = sheets.of({}, {"fit_score": 9}, delimiter=separator, lineterminator=end)
    (said,) = sheets.faults(mark + content.encode())
    assert said.startswith("row 3: fit_score is 9:")


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_decimal_commas_are_decimal_points(sheets, separator: str) -> None:
    rows = ({"foot_length_mm": "24,5"}, {"foot_length_mm": "24,6"})
    content = sheets.of(*rows, delimiter=separator)
    said = sheets.faults(content)
    assert [line.partition("; looks like ")[2] for line in said] == [
        f"centimetres given as millimetres: {value} would be {mm} mm"
        for value, mm in (("24.5", 245), ("24.6", 246))
    ]


def test_headings_may_have_capitals_spaces_and_quotation_marks(sheets) -> None:
    headings = ", ".join(f'"{name.title()}"' for name in sheets.sound).replace(', "', ',"')
    assert sheets.faults(f"{headings}\n{sheets.line}\n") == []


def test_rows_are_numbered_as_a_spreadsheet_shows_them(sheets) -> None:
    head, good, bad = sheets.of({}, {"fit_score": 9}).splitlines()
    content = "\n".join([head, "", good, "   ", "," * 13, bad, "", bad, "", ""])
    assert [line[:6] for line in sheets.faults(content)] == ["row 6:", "row 8:"]


def test_notes_of_several_lines_do_not_move_row_numbers(sheets) -> None:
    rows = ({"notes": 'two\nlines, "quoted"'}, {"fit_score": 9, "notes": "a\n\nb"})
    for content in (sheets.of(*rows), sheets.of(*rows).replace("\n", "\r\n")):
        (said,) = sheets.faults(content)
        assert said.startswith("row 3: fit_score is 9:")


def test_row_numbers_go_on_over_pieces_of_a_long_file(sheets) -> None:
    lines = [sheets.line] * 20_001
    content = "\n".join([sheets.headings, *lines, sheets.line[:-1] + "9"])
    assert [line[:10] for line in sheets.faults(content)] == ["row 20003:"]


@pytest.mark.parametrize("where", [2, 3, 5])
def test_a_row_with_too_many_cells_is_named(sheets, where: int) -> None:
    lines = [sheets.headings, *[sheets.line] * 5]
    lines[where - 1] += ",7"
    said = refused(sheets, "\n".join(lines))
    assert f"row {where} has 15 cells and there are 14 headings" in said


def test_all_rows_with_too_many_cells_are_named_at_once(sheets) -> None:
    lines = [sheets.headings, *[sheets.line] * 5]
    for where in (3, 5):
        lines[where - 1] += ",7"
    said = refused(sheets, "\n".join(lines))
    assert all((f"row {where} has" in said) == (where in (3, 5)) for where in range(1, 7))


def test_a_comma_too_many_after_blank_lines_and_long_notes_is_found_in_its_row(sheets) -> None:
    head, noted, good = sheets.of({"notes": "a\nb\nc"}, {}).replace("\nb\nc", "¶b¶c").splitlines()
    content = "\n".join([head, "", noted, good, good + ",7"]).replace("¶", "\n")
    assert "row 5 has 16 cells and there are 15 headings" in refused(sheets, content)


def test_a_row_with_too_few_cells_lacks_its_last_values(sheets) -> None:
    said = sheets.faults("\n".join([sheets.headings, sheets.line, sheets.line[:-2]]))
    assert said == ["row 3: fit_score is missing: it must be a whole number from -2 to 2"]


def test_separators_behind_the_last_cell_of_every_row_do_no_harm(sheets) -> None:
    assert sheets.faults(f"{sheets.headings}\n{sheets.line},\n{sheets.line},\n") == []


def test_a_quotation_mark_without_its_partner_is_named(sheets) -> None:
    content = f'{sheets.headings},notes\n{sheets.line},"no end\n{sheets.line},\n'
    assert "a quotation mark begins a cell and no other ends it" in refused(sheets, content)
    assert "no other ends it" in refused(sheets, content + "x" * 200_000)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_a_file_that_is_not_utf_8_is_refused(sheets, encoding: str) -> None:
    content = sheets.of({"reporter": "Zoë"}).encode(encoding)
    assert "it is not UTF-8; save it as CSV in UTF-8" in refused(sheets, content)


def test_a_wrong_byte_far_down_is_found_too(sheets) -> None:
    content = sheets.of(*[{}] * 25_000).encode() + sheets.line.encode() + b"\xff\n"
    assert "it is not UTF-8" in refused(sheets, content)


@pytest.mark.parametrize(
    "content", [b"\x00" * 100, b"PK\x03\x04" + bytes(range(256)), b"%PDF-1.4\n1 0 obj\n", b"{}\n"]
)
def test_files_of_other_kinds_are_refused_in_words(sheets, content: bytes) -> None:
    said = refused(sheets, content)
    assert "not UTF-8" in said or "heading is" in said or "it is a workbook" in said
    assert said.isprintable()


def test_a_heading_line_without_end_is_refused_in_few_words(sheets) -> None:
    said = refused(sheets, "x" * 1_000_000)
    assert "heading is 'xxx" in said
    assert len(said) < 2000


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize(
    ("text", "filling"),
    [
        ("{}", "x"),
        *((text, f) for text in ('"{}"', '"two\n{}"', '"{}') for f in ("x", "x\n", '""')),
    ],
)
def test_a_row_longer_than_any_is_refused_before_it_is_in_memory(
    sheets, separator: str, text: str, filling: str
) -> None:
    cell = text.format(filling * (LONGEST_ROW // len(filling) + 1))
    head, line = (part.replace(",", separator) for part in (sheets.headings, sheets.line))
    said = refused(sheets, f"{head}{separator}notes\n{line}\n{line}{separator}{cell}\n")
    assert "row 3 is too long; does a quotation mark end its text?" in said


def test_single_quotation_marks_do_not_make_rows_long(sheets) -> None:
    inches = {"notes": 'a 9 inch foot: 9" or so ' + "x" * 1500}
    rows = 2 * LONGEST_ROW // 1500
    content = sheets.of(*[inches] * rows).replace('""', '"').replace(',"a 9', ",a 9")
    assert sheets.faults(content.replace('x"\n', "x\n")) == []


def test_of_long_rows_fewer_are_read_at_once(sheets) -> None:
    content = sheets.of(*({"notes": "x" * 1900 + str(n)} for n in range(6_000)))
    pieces = [len(chunk.bad) for chunk in read_chunks(sheets.file(content), LAYOUT)]
    assert sum(pieces) == 6_000
    assert max(pieces) * 1900 <= BYTES_AT_ONCE


def test_of_millions_of_faults_all_are_counted_and_the_first_kept(sheets) -> None:
    names, rows = sheets.headings.split(","), 3_000
    content = "\n".join([sheets.headings, *[",".join(["x"] * len(names))] * rows])
    (chunk,) = read_chunks(sheets.file(content), LAYOUT)
    assert chunk.faults.in_all == rows * (len(names) - 1)  # "x" may be a reporter
    assert bool(chunk.bad.all())
    first = [(one.row, one.fault.field) for one in chunk.faults.first]
    assert first == [(2 + n // 13, names[1 + n % 13]) for n in range(1000)]
