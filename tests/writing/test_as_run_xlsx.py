"""A run as performed, as a workbook: opened again by openpyxl, with numbers where numbers are."""

from datetime import datetime, time, timedelta
from io import BytesIO

import pytest
from openpyxl import load_workbook
from openpyxl.workbook import Workbook

from app.core.words import sentence
from app.writing.as_run_xlsx import DAY_S, ELAPSED, LOG, STEPS, UTC, as_run_xlsx
from app.writing.run_record import RunRecord
from tests.service.recorded import MARKS


@pytest.fixture
def book(record: RunRecord) -> Workbook:
    return load_workbook(BytesIO(as_run_xlsx(record)))


def column(book: Workbook, sheet: str, name: str) -> list[object]:
    rows = list(book[sheet].iter_rows(values_only=True))
    return [row[rows[0].index(name)] for row in rows[1:]]


def test_it_has_the_steps_the_log_and_which_run_it_is(book: Workbook, record: RunRecord) -> None:
    assert book.sheetnames == ["As run", "Log", "Run"]
    about = {str(name): value for name, value in book["Run"].iter_rows(min_row=2, values_only=True)}
    assert about["Head of the log"] == record.head
    assert about["Revision"] == record.situation.state.revision


def test_clocks_and_durations_are_numbers_with_a_time_s_format(book: Workbook) -> None:
    steps = book[STEPS]
    head = [cell.value for cell in steps[1]]
    done = {str(row[0].value): row for row in steps.iter_rows(min_row=2) if row[head.index("Finish")].value is not None}
    assert list(done) == list(MARKS)
    for step, row in done.items():
        for name in ("Plan start", "Plan finish", "Takes", "Start", "Finish", "Took"):
            cell = row[head.index(name)]
            assert cell.number_format == ELAPSED
            assert isinstance(cell.value, int | float | time | timedelta)
        assert seconds(row[head.index("Finish")].value) == MARKS[step]
    assert done["rig/1"][head.index("Later than planned, min")].value == pytest.approx(10 / 60)


def seconds(value: object) -> int:
    """openpyxl reads a number with such a format as a time or a span."""
    if isinstance(value, timedelta):
        return round(value.total_seconds())
    if isinstance(value, time):
        return value.hour * 3600 + value.minute * 60 + value.second
    assert isinstance(value, int | float)
    return round(value * DAY_S)


def test_moments_are_dates_of_utc(book: Workbook) -> None:
    assert column(book, STEPS, "Finish, UTC")[0] == datetime(2031, 5, 4, 7, 5, 10)  # noqa: DTZ001 - cells have no zone
    assert book[STEPS]["O2"].number_format == UTC


def test_the_log_is_there_in_words_whole_and_in_order(book: Workbook, record: RunRecord) -> None:
    assert column(book, LOG, "Event") == [each.seq for each in record.log]
    said = [str(words) for words in column(book, LOG, "What")]
    told = [sentence(each.event, record.situation.procedure) for each in record.log]
    assert [" ".join(words.split()) for words in said] == [" ".join(words.split()) for words in told]


def test_no_cell_is_a_formula(book: Workbook) -> None:
    kinds = {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row}
    assert kinds <= {"s", "n", "d"}
