"""Workbooks as they are written, seen by openpyxl's own reader; and the template."""

import subprocess
import sys
import zipfile
from io import BytesIO

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from app.core.procedure import Procedure, Supply
from app.reading.columns import COLUMNS, KINDS, NAMES
from app.reading.csv_file import read_csv
from app.reading.files import Kind, kind_of, read_file
from app.writing.table import rows_of
from app.writing.template import template, template_rows
from app.writing.xlsx_file import MEANINGS, SHEET, xlsx_bytes
from tests.core.building import procedure, step, task


def sheets(data: bytes) -> tuple[Worksheet, Worksheet]:
    table, meanings = openpyxl.load_workbook(BytesIO(data)).worksheets
    return table, meanings


def test_numbers_are_numbers_and_times_are_texts_that_stay_so() -> None:
    made = procedure(task("a", [step(60)], not_before_s=6300, may_put_off=True), finish_s=17_400)
    table, _ = sheets(xlsx_bytes([*rows_of(made), {"row": "supply", "name": "gas", "reserve": -2.5}]))
    column = {name: number for number, name in enumerate(NAMES, 1)}
    for row, name, value in [(2, "finish", "4:50"), (3, "not_before", "1:45"), (3, "worth", 1), (5, "reserve", -2.5)]:
        cell = table.cell(row, column[name])
        assert cell.value == value
        assert cell.number_format == ("@" if isinstance(value, str) else "General")


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "#REF!", "=HYPERLINK(1)", "'=1"])
def test_no_text_is_written_as_a_formula_or_an_error(text: str) -> None:
    data = xlsx_bytes(rows_of(procedure(task("a", [step(60, text)]))))
    table, _ = sheets(data)
    assert {cell.data_type for row in table.iter_rows() for cell in row if cell.value is not None} == {"s"}
    with zipfile.ZipFile(BytesIO(data)) as archive:
        assert b"<f>" not in archive.read("xl/worksheets/sheet1.xml")


def test_the_second_sheet_says_what_every_column_holds() -> None:
    table, meanings = sheets(template("xlsx"))
    assert (table.title, meanings.title) == (SHEET, MEANINGS)
    assert [cell.value for cell in table[1]] == list(NAMES)
    said = {(row[0].value, row[1].value) for row in meanings.iter_rows(min_row=2)}
    assert said == {(column.name, kind) for column in COLUMNS for kind in column.meaning}


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_template_is_a_sound_procedure_without_a_remark(kind: Kind) -> None:
    data = template(kind)
    assert kind_of(data) == kind
    reading = read_file(data)
    assert reading.faults == ()
    assert reading.procedure is not None


def test_the_template_shows_every_kind_of_row_and_every_column() -> None:
    rows = template_rows()
    assert {str(row["row"]) for row in rows if not str(row["row"]).startswith("#")} == set(KINDS)
    assert {name for row in rows for name in row} == set(NAMES)
    remarks = [str(row["row"]) for row in rows if str(row["row"]).startswith("#")]
    assert [remark.split()[1].rstrip(":") for remark in remarks[1:]] == list(KINDS)


def test_both_templates_say_the_same() -> None:
    assert read_csv(template("csv")).procedure == read_file(template("xlsx")).procedure


def test_a_server_starts_without_the_parts_for_workbooks() -> None:
    code = "import sys, app.main, app.cli; print([each for each in ('openpyxl', 'defusedxml') if each in sys.modules])"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert said.stdout.strip() == "[]"


def test_a_supply_keeps_its_reserve_as_a_number() -> None:
    made = procedure(task("a", [step(60)]))
    rows = rows_of(Procedure(made.id, made.title, made.tasks, supplies=(Supply("gas", (), "bar", 30.0),)))
    assert rows[1]["reserve"] == 30
    assert isinstance(rows[1]["reserve"], int)
