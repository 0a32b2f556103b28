"""Rows as an XLSX workbook: the table on the first sheet, what its columns mean on the second. It opens no file.

This module imports openpyxl, which takes a while: import it where a workbook is written and not before.
"""

from collections.abc import Iterable
from io import BytesIO

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from app.core.numbers import digits
from app.reading.columns import COLUMNS, KINDS, NAMES, Notation
from app.reading.escapes import harmless
from app.reading.xlsx_values import escaped
from app.writing.table import CellValue, Row

SHEET, MEANINGS = "Procedure", "Columns"

_AS_TEXT = "@"
"""The format under which a spreadsheet leaves 1:45 as it is typed, and makes no time or date of it."""
HEAD_FILL = PatternFill("solid", fgColor="FFD9E2EC")
_BLOCK = PatternFill("solid", fgColor="FFF0F4F8")
_WIDE = {"text": 52, "about": 40, "warning": 32, "caution": 32, "note": 32, "record": 30, "after": 24, "needs": 24}
_SPARE = 500
"""So many empty rows below the table are formatted as text and offer the kinds of rows."""


def xlsx_bytes(rows: Iterable[Row]) -> bytes:
    """The workbook."""
    book = Workbook()
    table = book.worksheets[0]
    table.title = SHEET
    last = _fill(table, list(rows))
    _offer(table, last + _SPARE)
    _explain(book.create_sheet(MEANINGS))
    book.properties.creator = "Leadline"
    made = BytesIO()
    book.save(made)
    return made.getvalue()


def _fill(table: Worksheet, rows: list[Row]) -> int:
    """Write header and rows. Returns the number of the last row."""
    for column, name in enumerate(NAMES, 1):
        head = put(table, 1, column, name)
        head.font, head.fill = Font(bold=True), HEAD_FILL
        spot = table.column_dimensions[get_column_letter(column)]
        spot.width, spot.number_format = _WIDE.get(name, 14), _AS_TEXT
    for number, row in enumerate(rows, 2):
        for column, name in enumerate(NAMES, 1):
            if name in row:
                cell = put(table, number, column, row[name])
                cell.alignment = Alignment(wrap_text=True, vertical="top")
                if row["row"] in {"procedure", "task"}:
                    cell.font, cell.fill = Font(bold=column < 4), _BLOCK
    table.freeze_panes = "D2"
    return len(rows) + 1


def put(table: Worksheet, row: int, column: int, value: CellValue) -> Cell:
    cell = table.cell(row, column)
    assert isinstance(cell, Cell)  # Nothing is merged.
    if isinstance(value, str):
        cell.value = escaped(harmless(value))
        # openpyxl takes some texts for formulas or errors.
        cell.data_type, cell.number_format = "s", _AS_TEXT
    else:
        # openpyxl would write 16 digits of a number, and some need 17; the digits of a number cell it leaves alone.
        cell.value = digits(value)
        cell.data_type = "n"
    return cell


def _offer(table: Worksheet, last: int) -> None:
    """Lists to choose from, for the kinds of rows and for truth values."""
    flags = ",".join(("true", "false"))
    offers = {"row": ",".join(KINDS)} | {each.name: flags for each in COLUMNS if each.notation is Notation.FLAG}
    for name, said in offers.items():
        letter = get_column_letter(NAMES.index(name) + 1)
        offer = DataValidation(type="list", formula1=f'"{said}"', allow_blank=True, showErrorMessage=name != "row")
        offer.add(f"{letter}2:{letter}{last}")
        table.add_data_validation(offer)


def _explain(sheet: Worksheet) -> None:
    rows = [("column", "row", "what it holds", "how it is written")]
    rows += [(each.name, kind, said, each.notation.value) for each in COLUMNS for kind, said in each.meaning.items()]
    for number, row in enumerate(rows, 1):
        for column, said in enumerate(row, 1):
            cell = put(sheet, number, column, said)
            if number == 1:
                cell.font, cell.fill = Font(bold=True), HEAD_FILL
    for letter, width in zip("ABCD", (18, 14, 60, 60), strict=True):
        sheet.column_dimensions[letter].width = width
    sheet.freeze_panes = "A2"
