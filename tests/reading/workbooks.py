"""Makes workbooks, sound and hostile, out of one that openpyxl writes. It reads none."""

import zipfile
from collections.abc import Callable, Mapping
from io import BytesIO

from openpyxl import Workbook

Rows = list[list[object]]
SHEET = "xl/worksheets/sheet1.xml"
SMALL: Rows = [
    ["row", "name", "text", "who", "takes", "not_before", "finish"],
    ["procedure", "p", "P", None, None, None, "4:50"],
    ["crew", "EV1", "Outside"],
    ["task", "a", "A", "EV1"],
    ["step", "a", "Do it", None, "8 min"],
]


def workbook(rows: Rows, formats: Mapping[str, str] | None = None, title: str = "Steps") -> bytes:
    """A workbook as openpyxl writes it; `formats` are number formats by cell."""
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title = title
    for row in rows:
        sheet.append(row)
    for cell, said in (formats or {}).items():
        sheet[cell].number_format = said
    made = BytesIO()
    book.save(made)
    return made.getvalue()


def changed(data: bytes, change: Callable[[str, bytes], bytes | None]) -> bytes:
    """The same zip with each part as `change` gives it, or without it."""
    made = BytesIO()
    with zipfile.ZipFile(BytesIO(data)) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            part = change(name, old.read(name))
            if part is not None:
                new.writestr(name, part)
    return made.getvalue()


def with_part(name: str, part: bytes) -> bytes:
    """The small workbook with one part written over."""
    return changed(workbook(SMALL), lambda each, old: part if each == name else old)


def with_sheet(inside: bytes) -> bytes:
    """The small workbook with another content of its sheet."""
    return with_part(SHEET, b"<worksheet><sheetData>" + inside + b"</sheetData></worksheet>")


def set_in(rows: Rows, row: int, column: int, value: object) -> Rows:
    """A copy with one cell changed, both numbers from 1."""
    made = [[*each, *[None] * 8] for each in rows]
    made[row - 1][column - 1] = value
    return made
