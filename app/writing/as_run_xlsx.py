"""A run as performed, as a workbook: the steps, the log in words, and which run it is. It opens no file.

Clocks and durations are numbers of days with a time's format, so that a spreadsheet reckons with them. This module
imports openpyxl, which takes a while: import it where a workbook is written and not before.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from app.core.as_run import AsRunStep
from app.core.events import kind_of
from app.core.times import instant
from app.core.words import sentence
from app.reading.columns import LONGEST_CELL
from app.writing.run_record import RunRecord, start_words, state_words
from app.writing.xlsx_file import HEAD_FILL, put

STEPS, LOG, ABOUT = "As run", "Log", "Run"

DAY_S = 86_400
ELAPSED = "[h]:mm:ss"
"""Hours run on after a day."""
UTC = "yyyy-mm-dd hh:mm:ss"
MINUTES = "+0.0;-0.0;0.0"
"""A spreadsheet shows no time below zero."""

Cell = str | int | float | datetime | None


@dataclass(frozen=True, slots=True)
class Column:
    """`format`: of the numbers in it; empty for text."""

    name: str
    width: int
    format: str = ""


_STEPS = (
    *(Column("Step", 18), Column("Task", 24), Column("What", 48), Column("Who", 14), Column("State", 12)),
    *(Column("Plan start", 12, ELAPSED), Column("Plan finish", 12, ELAPSED), Column("Takes", 10, ELAPSED)),
    *(Column("Start", 12, ELAPSED), Column("Start is", 12), Column("Finish", 12, ELAPSED), Column("Took", 10, ELAPSED)),
    *(Column("Later than planned, min", 14, MINUTES), Column("Start, UTC", 20, UTC), Column("Finish, UTC", 20, UTC)),
    Column("Signed by", 18),
)
_LOG = (
    *(Column("Event", 8, "0"), Column("Elapsed", 12, ELAPSED), Column("Entered", 12, ELAPSED)),
    *(Column("Entered, UTC", 20, UTC), Column("Signed by", 18), Column("Station", 16)),
    *(Column("What", 80), Column("Kind", 20)),
)


def as_run_xlsx(record: RunRecord) -> bytes:
    """The workbook."""
    book = Workbook()
    steps = book.worksheets[0]
    steps.title = STEPS
    _fill(steps, _STEPS, (_step(record, step) for step in record.steps))
    _fill(book.create_sheet(LOG), _LOG, _events(record))
    _fill(book.create_sheet(ABOUT), (Column("What", 22), Column("Is", 90)), _about(record))
    book.properties.creator = "Leadline"
    made = BytesIO()
    book.save(made)
    return made.getvalue()


def _fill(sheet: Worksheet, columns: Sequence[Column], rows: Iterable[Sequence[Cell]]) -> None:
    for place, column in enumerate(columns, 1):
        head = put(sheet, 1, place, column.name)
        head.font, head.fill = Font(bold=True), HEAD_FILL
        head.alignment = Alignment(wrap_text=True, vertical="top")
        sheet.column_dimensions[get_column_letter(place)].width = column.width
    for number, row in enumerate(rows, 2):
        for place, (column, value) in enumerate(zip(columns, row, strict=True), 1):
            _cell(sheet, number, place, column, value)
    sheet.freeze_panes = "A2"


def _cell(sheet: Worksheet, row: int, place: int, column: Column, value: Cell) -> None:
    if value is None or value == "":
        return
    if isinstance(value, str):
        made = put(sheet, row, place, value.replace("\r\n", "\n")[: LONGEST_CELL - 1])
    elif isinstance(value, datetime):
        made = sheet.cell(row, place, value.replace(tzinfo=None, microsecond=0))
    else:
        made = sheet.cell(row, place, value / DAY_S if column.format == ELAPSED else value)
    if not isinstance(value, str):
        made.number_format = column.format
    made.alignment = Alignment(wrap_text=True, vertical="top")


def _step(record: RunRecord, step: AsRunStep) -> tuple[Cell, ...]:
    shift_s = step.finish_shift_s
    moments = (None if each is None else record.utc(each) for each in (step.start_s, step.finish_s))
    return (
        *(step.id, step.task_title, step.do, ", ".join(step.who), state_words(step)),
        *(step.plan_start_s, step.plan_finish_s, step.takes_s),
        *(step.start_s, start_words(step), step.finish_s, step.took_s),
        *(None if shift_s is None else shift_s / 60, *moments, step.by),
    )


def _events(record: RunRecord) -> Iterable[tuple[Cell, ...]]:
    for each in record.log:
        words = sentence(each.event, record.situation.procedure)
        times = (each.at_s, each.logged_s, each.logged_at)
        yield each.seq, *times, each.by, each.station, words, kind_of(each.event)


def _about(record: RunRecord) -> Iterable[tuple[str, str]]:
    state, procedure = record.situation.state, record.situation.procedure
    yield "Run", f"{state.kind} {record.run}"
    yield "Procedure", f"{procedure.title} ({procedure.id})"
    yield "Revision", state.revision
    yield "Zero, UTC", instant(record.zero_utc)
    yield "Ended", "not yet" if state.ended_s is None else state.end_reason
    yield "Head of the log", record.head
    yield "Keep it elsewhere", f"leadline verify {record.run} --head {record.head} shows whether the log was changed."
