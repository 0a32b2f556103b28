"""Workbooks: what planners type, what other programs write, and what must be refused in words, quickly, and whole."""

import datetime
import struct
import tracemalloc
import zipfile
from collections.abc import Callable
from io import BytesIO

import openpyxl
import pytest
from defusedxml.common import EntitiesForbidden
from hypothesis import given, settings
from hypothesis import strategies as st

from app.reading.procedure_reader import Reading
from app.reading.xlsx_file import read_xlsx
from tests.reading.workbooks import SHEET, SMALL, Rows, changed, set_in, with_part, with_sheet, workbook

MOST_MEMORY = 128 * 1024 * 1024
OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(500)
ENTITIES = b"""<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>"""


def refused(data: bytes) -> tuple[str, str, str]:
    """Place, what and remedy of the one fault."""
    reading = read_xlsx(data)
    assert reading.procedure is None
    (fault,) = reading.faults
    assert fault.remedy
    return fault.where, fault.what, fault.remedy


def sound(data: bytes) -> Reading:
    reading = read_xlsx(data)
    assert [fault for fault in reading.faults if not fault.remark] == []
    assert reading.procedure is not None
    return reading


def test_a_workbook_of_another_program_is_read() -> None:
    procedure = sound(workbook(SMALL)).procedure
    assert procedure is not None
    assert procedure.limits.finish_s == 17_400
    assert procedure.steps[0].takes.likely_s == 480


@pytest.mark.parametrize(("value", "form", "seconds"), [
    (datetime.time(1, 45), "h:mm", 6300), (datetime.time(1, 45, 30), "h:mm:ss", 6330),
    (datetime.timedelta(hours=26, minutes=30), "[h]:mm:ss", 95_400), (datetime.time(0, 0, 10), "hh:mm:ss", 10),
])  # fmt: skip
def test_a_time_that_a_spreadsheet_made_of_what_was_typed_is_read(value: object, form: str, seconds: int) -> None:
    procedure = sound(workbook(set_in(SMALL, 5, 6, value), {"F5": form})).procedure
    assert procedure is not None
    assert procedure.steps[0].not_before_s == seconds


CELLS = [
    (5, 3, "=1+1", None, "this cell holds a formula", "paste it as a value"),
    (5, 6, datetime.date(2031, 5, 4), None, "this cell is a date", "text"),
    (5, 6, datetime.time(1, 45), "h:mm AM/PM", "this cell is a time of day", "h:mm"),
    (5, 6, 1.5, "h:mm", "this cell shows a time, but holds more than a day", "26:30"),
    (5, 5, datetime.time(0, 8), "h:mm", "“0:08” is not a duration", "8 min"),
    (5, 5, 8, None, "“8” does not say its unit", "8 min"),
    (5, 5, "٨ min", None, "“٨ min” is not a duration", "8 min"),
    (5, 3, "#REF!", None, "this cell holds the error “#REF!”", "write its value"),
    (5, 3, "a\u202eb", None, "a hidden text-direction mark (U+202E) is not allowed in a text", "take it out"),
    (5, 3, "x" * 5000, None, "a text of 5,000 characters; at most 4,000 are read", "shorten"),
    (4, 2, True, None, "there is no task row “a”", "row task"),
    (5, 7, "1:00", None, "a step row has no finish", "procedure"),
    (5, 9, "x", None, "“x” stands under no column", "take it out"),
    (5, 1, "stpe", None, "there is no kind of row “stpe”", "did you mean step?"),
    (4, 4, "EV2", None, "“EV2” is not in the crew", "EV1"),
]  # fmt: skip


@pytest.mark.parametrize(("row", "column", "value", "form", "what", "remedy"), CELLS)
def test_a_wrong_cell_is_told_by_sheet_and_cell(
    row: int, column: int, value: object, form: str | None, what: str, remedy: str
) -> None:
    name = f"{'ABCDEFGHIJ'[column - 1]}{row}"
    data = workbook(set_in(SMALL, row, column, value), {name: form} if form else None)
    reading = read_xlsx(data)
    assert reading.procedure is None
    fault = reading.faults[0]
    assert (fault.what, fault.where) == (what, f"Steps!{name if value is not True else 'B5'}")
    assert remedy in fault.remedy


def test_a_percentage_is_not_read_as_its_hundredth() -> None:
    rows: Rows = [*SMALL, ["supply", "gas", None, "EV1"]]
    rows[0] = [*SMALL[0], "unit", "reserve"]
    rows[5] = ["supply", "gas", None, "EV1", None, None, None, "%", 0.12]
    assert refused(workbook(rows, {"I6": "0%"}))[:2] == ("Steps!I6", "this cell is a percentage")
    assert sound(workbook(rows, {"I6": "0.00"})).procedure


def test_a_truth_value_that_a_spreadsheet_made_of_what_was_typed_is_read() -> None:
    rows: Rows = [[*SMALL[0], "get_ahead"], *SMALL[1:3], ["task", "a", "A", "EV1", None, None, None, True], *SMALL[4:]]
    rows += [["task", "b", "B", "EV1", None, None, None, "FALSE"], ["step", "b", "x", None, "1 min"]]
    procedure = sound(workbook(rows)).procedure
    assert procedure is not None
    assert [task.get_ahead for task in procedure.tasks] == [True, False]


def test_a_cell_that_is_there_twice_is_refused() -> None:
    data = changed(
        workbook(SMALL), lambda _, part: part.replace(b'<c r="D5"', b'<c r="C5"').replace(b'r="E5"', b'r="C5"')
    )
    assert ("Steps!C5", "this cell is there twice in the file") in [
        (fault.where, fault.what) for fault in read_xlsx(data).faults
    ]


@pytest.mark.parametrize("part", [SHEET, "xl/workbook.xml", "[Content_Types].xml"])
def test_openpyxl_itself_refuses_entities_where_defusedxml_is_installed(part: str) -> None:
    """The tests and whoever opens a workbook with openpyxl rely on it; it is a hard dependency for that."""
    data = changed(workbook(SMALL), lambda name, old: ENTITIES + old.rpartition(b"?>")[2] if name == part else old)
    assert openpyxl.DEFUSEDXML
    with pytest.raises(ValueError, match="could not read") as refused_by:
        openpyxl.load_workbook(BytesIO(data))
    assert isinstance(refused_by.value.__cause__, EntitiesForbidden)


def test_the_name_of_a_sheet_cannot_forge_a_line() -> None:
    data = workbook(set_in(SMALL, 5, 5, 8))
    forged = changed(data, lambda _, part: part.replace(b'name="Steps"', b'name="a&#10;b&#8238;"'))
    assert refused(forged)[0] == "a b\N{REPLACEMENT CHARACTER}!E5"


def test_the_first_sheet_is_read_and_no_other() -> None:
    book = openpyxl.load_workbook(BytesIO(workbook(SMALL)))
    book.create_sheet("Other").append(["anything", "at", "all"])
    made = BytesIO()
    book.save(made)
    assert sound(made.getvalue()).procedure == sound(workbook(SMALL)).procedure


def _far(cell: str) -> bytes:
    book = openpyxl.load_workbook(BytesIO(workbook(SMALL)))
    book.worksheets[0][cell] = "x"
    made = BytesIO()
    book.save(made)
    return made.getvalue()


@pytest.mark.parametrize("cell", ["XFD1048576", "A10001", "GS1", "A1048576"])
def test_a_cell_far_outside_the_table_is_told_by_its_name(cell: str) -> None:
    where, what, remedy = refused(_far(cell))
    assert where == f"Steps!{cell}"
    assert "far outside" in what
    assert "delete" in remedy


def _zip(*names: str) -> bytes:
    made = BytesIO(workbook(SMALL))
    with zipfile.ZipFile(made, "a") as archive:
        for name in names:
            archive.writestr(name, "x")
    return made.getvalue()


def _encrypted_part() -> bytes:
    """The flag that a part is encrypted, set in the local header and in the directory (APPNOTE 4.4.4)."""
    data = bytearray(workbook(SMALL))
    for mark, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        place = data.index(mark) + at
        data[place : place + 2] = struct.pack("<H", 1)
    return bytes(data)


HOSTILE: dict[str, tuple[Callable[[], bytes], str]] = {
    "200 MB of blanks": (lambda: with_sheet(b" " * 200_000_000), "unfolds to 191 MB"),
    "entities in the sheet": (lambda: with_part(SHEET, ENTITIES + b"<worksheet/>"), "document type or an entity"),
    "entities in the list of sheets": (
        lambda: with_part("xl/workbook.xml", ENTITIES + b"<workbook/>"), "document type or an entity",
    ),
    "a part outside": (lambda: _zip("../../x"), "“../../x” would lie outside"),
    "a part at the root": (lambda: _zip("/etc/x"), "“/etc/x” would lie outside"),
    "a part on a drive": (lambda: _zip("C:x"), "would lie outside"),
    "many parts": (lambda: _zip(*(f"x{number}" for number in range(501))), "parts, and at most 500"),
    "encrypted whole": (lambda: OLE + "EncryptedPackage".encode("utf-16-le"), "the workbook is encrypted"),
    "encrypted part": (_encrypted_part, "the workbook is encrypted"),
    "an .xls": (lambda: OLE + "Workbook".encode("utf-16-le"), "an old workbook (.xls)"),
    "another old file": (lambda: OLE, "an old kind of office file"),
    "a page called .xlsx": (lambda: b"<html></html>", "no XLSX workbook"),
    "nothing": (lambda: b"", "no XLSX workbook"),
    "half a file": (lambda: workbook(SMALL)[:3000], "no XLSX workbook"),
    "too large": (lambda: workbook(SMALL) + bytes(600_000), "and at most 512 KB are read"),
    "another zip": (lambda: changed(workbook(SMALL), lambda name, part: part if "theme" in name else None), "no part"),
    "no sheet part": (lambda: changed(workbook(SMALL), lambda name, part: None if name == SHEET else part), "no part"),
    "a binary workbook": (lambda: with_part("xl/workbook.xml", b"\x83\x01\x00"), "is damaged"),
    "a million empty rows": (lambda: with_sheet(b"<row/>" * 1_300_000), "more in it than any table needs"),
    "half a million cells": (lambda: with_sheet(b"<row>" + b"<c><v>1</v></c>" * 400_000 + b"</row>"), "more in it"),
    "nested without end": (lambda: with_sheet(b"<a>" * 2_000_000), "more in it than any table needs"),
    "siblings without end": (lambda: with_sheet(b"<x/><row/>" * 190_000), "more in it than any table needs"),
    "one long text": (
        lambda: with_sheet(b"<row><c t='inlineStr'><is><t>" + b"a" * 7_000_000 + b"</t></is></c></row>"),
        "more than 2,097,152 characters",
    ),
    "a text of 200 KB": (
        lambda: with_sheet(b"<row><c t='inlineStr'><is><t>" + b"a" * 200_000 + b"</t></is></c></row>"),
        "a text of 200,000 characters",
    ),
    "an empty sheet": (lambda: with_sheet(b""), "the table is empty"),
    "a text that is not there": (lambda: with_sheet(b"<row><c t='s'><v>7</v></c></row>"), "that is not in the file"),
}  # fmt: skip


@pytest.mark.parametrize(("make", "what"), HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_workbook_is_refused_in_words(make: Callable[[], bytes], what: str) -> None:
    """How long each takes: `python -m tests.bench readers`."""
    assert what in refused(make())[1]


@pytest.mark.parametrize(
    "name", ["200 MB of blanks", "half a million cells", "siblings without end", "nested without end"]
)
def test_a_bomb_takes_little_memory(name: str) -> None:
    data = HOSTILE[name][0]()
    tracemalloc.start()
    try:
        assert read_xlsx(data).procedure is None
        assert tracemalloc.get_traced_memory()[1] < MOST_MEMORY
    finally:
        tracemalloc.stop()


def test_one_text_used_by_many_cells_cannot_grow_without_bound() -> None:
    strings = b"<sst><si><t>" + b"a" * 30_000 + b"</t></si></sst>"
    sheet = b"<worksheet><sheetData>" + b"<row><c t='s'><v>0</v></c></row>" * 5_000 + b"</sheetData></worksheet>"
    links = b'<Relationships><Relationship Id="rId1" Type="x/worksheet" Target="worksheets/sheet1.xml"/>' \
        b'<Relationship Id="s" Type="x/sharedStrings" Target="sharedStrings.xml"/></Relationships>'  # fmt: skip
    parts = {SHEET: sheet, "xl/_rels/workbook.xml.rels": links}
    made = BytesIO(changed(workbook(SMALL), lambda name, part: parts.get(name, part)))
    with zipfile.ZipFile(made, "a") as archive:
        archive.writestr("xl/sharedStrings.xml", strings)
    assert "more than 2,097,152 characters" in refused(made.getvalue())[1]


@given(st.integers(0, 6_000), st.binary(min_size=1, max_size=40))
@settings(max_examples=150, deadline=None)
def test_a_damaged_workbook_never_raises(at: int, noise: bytes) -> None:
    data = bytearray(workbook(SMALL))
    data[at : at + len(noise)] = noise
    reading = read_xlsx(bytes(data))
    assert reading.procedure is not None or all(fault.what and fault.remedy for fault in reading.faults)


@given(
    st.integers(0, 1_500),
    st.sampled_from([b"<", b"&", b'"', b"</c>", b"<c>", b"\x00", b"\xff", b"<f/>", b"<v>", b"]]>"]),
)
@settings(max_examples=150, deadline=None)
def test_a_damaged_sheet_never_raises(at: int, noise: bytes) -> None:
    def spoilt(name: str, part: bytes) -> bytes:
        return part[:at] + noise + part[at:] if name == SHEET else part

    reading = read_xlsx(changed(workbook(SMALL), spoilt))
    assert reading.procedure is not None or reading.faults
