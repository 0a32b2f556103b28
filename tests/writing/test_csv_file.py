"""CSV as it is written: RFC 4180, read by Python's own csv module, and harmless in a spreadsheet."""

import csv
import re
from io import StringIO

import pytest
from hypothesis import given, settings

from app.core.procedure import Procedure, Supply
from app.reading.columns import NAMES
from app.reading.escapes import SIGNS, harmless, restored
from app.writing.csv_file import csv_bytes
from app.writing.table import rows_of
from tests.core.building import procedure, step, task
from tests.writing.full import full_procedures, texts


def written(made: Procedure) -> str:
    return csv_bytes(rows_of(made)).decode("utf-8-sig")


@given(full_procedures())
@settings(max_examples=25, deadline=None)
def test_every_row_has_the_same_number_of_fields(made: Procedure) -> None:
    """RFC 4180, 2.4. The csv module is the outside reader."""
    rows = list(csv.reader(StringIO(written(made), newline=""), strict=True))
    assert rows[0] == list(NAMES)
    assert {len(row) for row in rows} == {len(NAMES)}
    assert len(rows) == 1 + len(rows_of(made))


def test_lines_end_with_cr_lf_and_the_file_says_that_it_is_utf_8() -> None:
    """RFC 4180, 2.1, and the mark without which spreadsheets take UTF-8 for another encoding (common practice)."""
    data = csv_bytes(rows_of(procedure(task("a", [step(60, "Prüfen")]))))
    assert data.startswith(b"\xef\xbb\xbfrow,")
    assert data.count(b"\r\n") == data.count(b"\n") == 4
    assert "Prüfen" in data.decode()


@given(texts())
def test_no_field_begins_with_a_sign_that_a_spreadsheet_runs(text: str) -> None:
    made = procedure(task("a", [step(60, text)]))
    for row in csv.reader(StringIO(written(made), newline="")):
        assert not any(field[:1] in SIGNS for field in row if field)


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@x", "\tx", "\rx", "'=1", "''-", "＝1"])
def test_what_is_made_harmless_is_restored(text: str) -> None:
    assert harmless(text) == f"'{text}"
    assert restored(harmless(text)) == text


@pytest.mark.parametrize("text", ["'", "'x", "x=1", "", "''", "1-2"])
def test_other_texts_are_left_alone(text: str) -> None:
    assert harmless(text) == restored(text) == text


def test_numbers_stay_numbers() -> None:
    made = procedure(task("a", [step(60)]))
    row = rows_of(Procedure(made.id, made.title, made.tasks, supplies=(Supply("gas", (), "bar", -0.00001),)))[1]
    assert re.fullmatch("supply,gas,.*,bar,-0.00001,.*", csv_bytes([row]).decode().split("\r\n")[1])
