"""Hostile workbooks: bombs of every part, what a spreadsheet program would run or fetch, order that is not kept."""

import struct
import zipfile
from io import BytesIO

from tests.reading.hostile import File, case
from tests.reading.workbooks import SHEET, SMALL, changed, with_part, with_sheet, workbook

STYLES, STRINGS = "xl/styles.xml", "xl/sharedStrings.xml"
WORKBOOK, ROOT_LINKS, LINKS = "xl/workbook.xml", "_rels/.rels", "xl/_rels/workbook.xml.rels"
COLUMNS = b'<cols><col min="1" max="4" hidden="0"/><col min="5" max="16384" hidden="true"/></cols>'
MANY = 140_000
"""Elements: nearly as many as are read of a whole workbook."""
LONG = 7_900_000
"""Characters: nearly as many as a workbook may unfold to."""
WHOLE = "line 1, column 1"
DTD = "declares a document type or an entity"


def replaced(part: str, old: bytes, new: bytes) -> bytes:
    """The small workbook with a text of one part written over."""
    return changed(workbook(SMALL), lambda name, said: said.replace(old, new) if name == part else said)


def with_file(name: str, data: bytes) -> bytes:
    made = BytesIO(workbook(SMALL))
    with zipfile.ZipFile(made, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, data)
    return made.getvalue()


def with_files(count: int) -> bytes:
    made = BytesIO(workbook(SMALL))
    with zipfile.ZipFile(made, "a") as archive:
        for number in range(count):
            archive.writestr(str(number), "")
    return made.getvalue()


def styles(code: bytes, count: int = 1) -> bytes:
    """One number format and cells' styles that use it."""
    formats = b'<numFmts><numFmt numFmtId="170" formatCode="' + code + b'"/></numFmts>'
    cells = b"<cellXfs>" + b'<xf numFmtId="170"/>' * count + b"</cellXfs>"
    return with_part(STYLES, b"<styleSheet>" + formats + cells + b"</styleSheet>")


def text(said: bytes) -> bytes:
    """A sheet of one cell."""
    return with_sheet(b"<row><c t='inlineStr'><is><t>" + said + b"</t></is></c></row>")


def nested(depth: int = 20) -> bytes:
    """Zips in a zip, the whole in a part that no sheet names."""
    inner = workbook(SMALL)
    for _ in range(depth):
        made = BytesIO()
        with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("x.zip", inner)
        inner = made.getvalue()
    return with_file("x.zip", inner)


def only_a_zip_in_a_zip() -> bytes:
    made = BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        archive.writestr("x.xlsx", workbook(SMALL))
    return made.getvalue()


def lying() -> bytes:
    """A sheet of 20 MB that the directory calls 1,000 bytes (APPNOTE 4.3.12)."""
    data = bytearray(with_sheet(b" " * 20_000_000))
    at = data.rindex(b"PK\x01\x02", 0, data.rindex(SHEET.encode()))
    data[at + 24 : at + 28] = struct.pack("<I", 1_000)
    return bytes(data)


def packed_in_another_way() -> bytes:
    made = BytesIO()
    with zipfile.ZipFile(BytesIO(workbook(SMALL))) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_LZMA) as new:
        for name in old.namelist():
            new.writestr(name, old.read(name))
    return made.getvalue()


def every_part_full() -> bytes:
    """No part holds too much, and all of them together hold far too much."""
    noise = {ROOT_LINKS: b"<Relationship ", LINKS: b"<Relationship ", WORKBOOK: b"<sheets>", SHEET: b"<sheetData>"}

    def filled(name: str, said: bytes) -> bytes:
        before = noise.get(name, b"")
        return said.replace(before, b"<a/>" * MANY + before, 1) if before else said

    return changed(workbook(SMALL), filled)


def in_encoding(name: str) -> File:
    return lambda: with_part(SHEET, f'<?xml version="1.0" encoding="{name}"?><worksheet/>'.encode())


def link(target: bytes, more: bytes = b"") -> File:
    said = b"<Relationships><Relationship Id='a' Type='b/officeDocument' Target='" + target + b"' " + more
    return lambda: with_part(ROOT_LINKS, said + b"/></Relationships>")


BOMBS = [
    case("a number format of a million brackets", lambda: styles(b"[" * 1_000_000), WHOLE, "a number format has"),
    case("a number format of a million marks", lambda: styles(b"&quot;" * 999_999), WHOLE, "a number format has"),
    case("a long format in 100,000 styles", lambda: styles(b"a" * 100_000, 100_000), WHOLE, "a number format has"),
    case("140,000 styles", lambda: styles(b"0.0", MANY), WHOLE, "more in it than any table needs"),
    case("every part full", every_part_full, WHOLE, "more in it than any table needs"),
    case("140,000 cells with attributes", lambda: with_sheet(b"<row>" + b"<c r='' s='' t=''/>" * MANY + b"</row>"),
         "Steps!A1", "the table is empty"),
    case("a cell of 140,000 values", lambda: with_sheet(b"<row><c>" + b"<v/>" * MANY + b"</c></row>"), "Steps!A1",
         "the table is empty"),
    case("a text of 70,000 runs", lambda: text(b"</t></is><is>" + b"<r><t>a</t></r>" * (MANY // 2) + b"<t>"),
         "Steps!A1", "a text of 70,000 characters"),
    case("80,000 rows of one number", lambda: with_sheet(b"<row r='2'><c><v>1</v></c></row>" * 80_000), "Steps!A2",
         "out of its order"),
    case("a remark of 8 MB", lambda: with_sheet(b"<!--" + b"a" * LONG + b"-->"), "Steps!A1", "the table is empty"),
    case("a tag of 8 MB", lambda: with_sheet(b"<" + b"a" * LONG + b"/>"), "Steps!A1", "the table is empty"),
    case("an attribute of 8 MB", lambda: with_sheet(b"<row a='" + b"a" * LONG + b"'/>"), "Steps!A1", "is empty"),
    case("a text of 8 MB", lambda: text(b"a" * LONG), WHOLE, "more than 2,097,152 characters"),
    case("1,500,000 characters by number", lambda: text(b"&#65;" * 1_500_000), "Steps!A1", "1,500,000 characters"),
    case("a name of 6 MB", lambda: with_part(
        WORKBOOK, b"<workbook><sheets><sheet name='" + b"a " * 3_000_000 + b"' id='rId1'/></sheets></workbook>")),
    case("a path of 6 MB", link(b"../" * 2_000_000), WHOLE, "has no part"),
    case("4,500 parts", lambda: with_files(4_500), WHOLE, "parts, and at most 500 are read"),
    case("10,000 parts", lambda: with_files(10_000), WHOLE, "at most 512 KB are read"),
    case("zips in zips", nested),
    case("a zip in a zip", only_a_zip_in_a_zip, WHOLE, "has no part"),
    case("a sheet larger than it says", lying, WHOLE, "is damaged"),
    case("packed in another way", packed_in_another_way, WHOLE, "packed in a way that no workbook uses"),
]  # fmt: skip
"""A few KB each."""

XML = b'<?xml version="1.0"?>'
FETCHING = [
    case("a document type elsewhere", lambda: with_part(
        SHEET, XML + b'<!DOCTYPE x SYSTEM "http://127.0.0.1:9/x.dtd"><worksheet/>'), WHOLE, DTD),
    case("an entity from a file", lambda: with_part(
        SHEET, XML + b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><worksheet>&a;</worksheet>'), WHOLE, DTD),
    case("an entity of the document type", lambda: with_part(
        SHEET, XML + b'<!DOCTYPE x [<!ENTITY % a SYSTEM "file:///etc/passwd"> %a;]><worksheet/>'), WHOLE, DTD),
    case("a document type in the texts' part", lambda: with_part(LINKS, XML + b"<!DOCTYPE x [] ><Relationships/>"),
         WHOLE, DTD),
    case("an inclusion", lambda: text(
        b'<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" href="file:///etc/passwd" parse="text"/>'),
        "Steps!A1", "the table is empty"),
    case("a workbook elsewhere", link(b"http://127.0.0.1:9/x", b"TargetMode='External'"), WHOLE, "has no part"),
    case("a workbook outside", link(b"../../etc/passwd"), WHOLE, "has no part"),
    case("macros", lambda: with_file("xl/vbaProject.bin", b"\xd0\xcf\x11\xe0")),
    case("links to other workbooks", lambda: with_file("xl/externalLinks/externalLink1.xml", b"<externalLink/>")),
    *(case(f"encoding {name}", in_encoding(name), WHOLE, "is damaged")
      for name in ("UTF-7", "idna", "punycode", "undefined", "rot13", "zlib", "utf-16", "cp037", "x" * 5_000)),
]  # fmt: skip
"""What asks the reader to fetch, run or decode something."""

ORDER = [
    case("a row twice", lambda: replaced(SHEET, b'<row r="5"', b'<row r="4"'), "Steps!A5", "out of its order"),
    case("rows in another order", lambda: replaced(SHEET, b'r="2"', b'r="9"'), "Steps!A2", "out of its order"),
    case("a cell of another row", lambda: replaced(SHEET, b'r="C5"', b'r="C3"'), "Steps!A5", "out of its order"),
    case("a hidden first sheet", lambda: replaced(WORKBOOK, b'state="visible"', b'state="hidden"'), WHOLE,
         "the first sheet, “Steps”, is hidden"),
    case("a sheet that is very hidden", lambda: replaced(WORKBOOK, b'state="visible"', b'state="veryHidden"'), WHOLE,
         "is hidden"),
    case("a hidden row", lambda: replaced(SHEET, b'<row r="5"', b'<row hidden="1" r="5"'), "Steps!A5",
         "this row is hidden, and something stands in it"),
    case("a hidden column", lambda: replaced(SHEET, b"<sheetData>", COLUMNS + b"<sheetData>"), "Steps!E1",
         "this column is hidden, and something stands in it"),
    case("hidden columns without end", lambda: with_sheet(
        b"<cols>" + b"<col min='2' max='9' hidden='1'/>" * MANY + b"</cols><row><c><v>1</v></c></row>"), "Steps!A1",
         "there is no column"),
    case("a truth value that is none", lambda: with_sheet(b"<row><c t='b'><v>2</v></c></row>"), "Steps!A1",
         "neither true nor false"),
    case("a number beyond all measure", lambda: with_sheet(b"<row><c><v>1e999</v></c></row>"), "Steps!A1",
         "beyond all measure"),
    case("a number of 5,000 digits", lambda: with_sheet(b"<row><c><v>" + b"9" * 5_000 + b"</v></c></row>"), "Steps!A1",
         "no number"),
    case("half a character by escape", lambda: text(b"_xD800_"), "Steps!A1", "half of a character"),
    case("NUL by escape", lambda: text(b"_x0000_"), "Steps!A1", "NUL"),
    case("a style that is not there", lambda: with_sheet(b"<row><c s='9999999'><v>1</v></c></row>"), "Steps!A1",
         "no column “1”"),
]  # fmt: skip
"""What a spreadsheet program shows otherwise than it stands in the file."""

CASES = (*BOMBS, *FETCHING, *ORDER)
