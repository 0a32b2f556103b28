"""Marks from a CSV file: which step was complete at which elapsed time. It does not know whether the steps exist.

The form is RFC 4180 with a header: the columns `step` and `at`, in either order. The fields are split here and not by
the csv module, because a quotation mark that is never closed must be told at the place where it opens.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from app.core.quoting import quoted
from app.core.times import TimeFault, read_clock
from app.reading.characters import decoded
from app.reading.faults import PlacedFault, in_order
from app.reading.spots import ID

COLUMNS = ("step", "at")
LONGEST_FIELD = 200
"""A step id has at most 71 characters. Our own bound, no source."""
MOST_ROWS = 20_000
MOST_FIELDS = 20
"""Lines, blank ones included, and fields of a row. A procedure has some 6,000 steps at most. Our own bounds."""

_STEP = re.compile(rf"{ID.pattern}/[1-9][0-9]{{0,5}}")
_QUOTED = re.compile(r'"([^"]*(?:""[^"]*)*)"')
_BARE = re.compile(r"[^,\r\n]*")
_REST = re.compile(r"[^\r\n]*")
_BREAK = re.compile(r"\r\n|\r|\n")


@dataclass(frozen=True, slots=True)
class MarksReading:
    """`marks` are (step id, elapsed seconds) in file order, and empty if there is any fault.

    The column of a fault is the character position in its line at which the field begins, from 1.
    """

    marks: tuple[tuple[str, int], ...]
    faults: tuple[PlacedFault, ...]


@dataclass(frozen=True, slots=True)
class _Field:
    """`told`: its fault has been noted already, and nothing more is said of it."""

    line: int
    column: int
    text: str
    told: bool = False

    def fault(self, what: str, remedy: str) -> PlacedFault:
        return PlacedFault(self.line, self.column, what, remedy)


_Row = list[_Field]


def read_marks(data: bytes | str) -> MarksReading:
    """The marks of a CSV file with the columns `step` and `at`. Never raises on bad input."""
    text, faults = decoded(data)
    if faults:
        return MarksReading((), in_order(faults))
    rows = [row for row in _rows(text, faults) if len(row) > 1 or row[0].text or row[0].told]
    if not rows and not faults:
        faults.append(PlacedFault(1, 1, "the file has no header", "begin it with the line step,at"))
    if not rows:
        return MarksReading((), in_order(faults))
    order = _header(rows[0], faults)
    marks = [mark for row in rows[1:] if order and (mark := _mark(row, order, faults))]
    return MarksReading(() if faults else tuple(marks), in_order(faults))


def _rows(text: str, faults: list[PlacedFault]) -> Iterator[_Row]:
    """The rows of the file. What follows a quotation mark that is never closed, or too many rows, is not read."""
    at, line, line_start = 0, 1, 0
    row: _Row = []
    while True:
        opened = _Field(line, at - line_start + 1, "")
        found = _QUOTED.match(text, at) if text.startswith('"', at) else _BARE.match(text, at)
        if found is None:
            faults.append(opened.fault("this quotation mark is never closed", "close it, or take it out"))
            return
        if too_many := _too_many(line, row):
            faults.append(opened.fault(too_many, "take the needless ones out"))
            return
        row.append(_field(opened, found, faults))
        at = found.end()
        breaks = list(_BREAK.finditer(found[0]))
        if breaks:
            line, line_start = line + len(breaks), found.start() + breaks[-1].end()
        if text.startswith(",", at):
            at += 1
            continue
        at = _past_rest(text, at, opened, faults)
        ended = _BREAK.match(text, at)
        yield row
        if ended is None:
            return
        row, at, line, line_start = [], ended.end(), line + 1, ended.end()


def _too_many(line: int, row: _Row) -> str:
    """What there is too much of before the next field of a row; empty if it may be read."""
    if line > MOST_ROWS:
        return f"the file has more than {MOST_ROWS:,} lines"
    return f"the row has more than {MOST_FIELDS} fields" if len(row) >= MOST_FIELDS else ""


def _past_rest(text: str, at: int, opened: _Field, faults: list[PlacedFault]) -> int:
    """Past what stands between a closing quotation mark and the next comma or line, which should be nothing."""
    rest = _REST.match(text, at)
    if rest and rest[0].strip():
        remedy = "double a quotation mark inside quotes, and end the field after the closing one"
        faults.append(opened.fault(f"{quoted(rest[0])} follows the closing quotation mark", remedy))
    return rest.end() if rest else at


def _field(opened: _Field, found: re.Match[str], faults: list[PlacedFault]) -> _Field:
    inside = found[1].replace('""', '"') if found.re is _QUOTED else found[0]
    if _BREAK.search(found[0]):
        what = "a quoted field runs over the end of the line, and rows may be lost in it"
        faults.append(opened.fault(what, "close the quotation mark in the line where it opens"))
    elif len(inside) > LONGEST_FIELD:
        what = f"a field of {len(inside):,} characters; at most {LONGEST_FIELD} are read"
        faults.append(opened.fault(what, "shorten it, or look for a missing comma"))
    elif found.re is _BARE and '"' in inside:
        faults.append(opened.fault(f"a quotation mark inside {quoted(inside)}", "take it out"))
    else:
        return _Field(opened.line, opened.column, inside.strip())
    return _Field(opened.line, opened.column, "", told=True)


def _header(row: _Row, faults: list[PlacedFault]) -> dict[str, int] | None:
    """Which field is which column; None, with faults, unless there is just one of each."""
    order: dict[str, int] = {}
    told = len(faults)
    for number, field in enumerate(row):
        if field.told:
            continue
        if field.text not in COLUMNS:
            remedy = "divide the columns with commas" if set(field.text) & set(";\t") else "the columns are step and at"
            faults.append(field.fault(f"there is no column {quoted(field.text)}", remedy))
        elif field.text in order:
            faults.append(field.fault(f"the column {field.text} is there twice", "keep one of them"))
        else:
            order[field.text] = number
    missing = [name for name in COLUMNS if name not in order]
    if missing and len(faults) == told and not any(field.told for field in row):
        what = f"the column {' and '.join(missing)} is missing"
        faults.append(row[0].fault(what, "begin the file with the line step,at"))
    return order if len(order) == len(COLUMNS) and len(faults) == told else None


def _mark(row: _Row, order: dict[str, int], faults: list[PlacedFault]) -> tuple[str, int] | None:
    told = any(field.told for field in row)
    if len(row) != len(COLUMNS):
        what = f"{len(row)} field{'s' if len(row) > 1 else ''} where the header has {len(COLUMNS)}"
        if not told:
            last = row[min(len(row) - 1, len(COLUMNS))]
            faults.append(last.fault(what, "write a step and a time, as shut-valves/2,1:05"))
        return None
    step, at = row[order["step"]], row[order["at"]]
    if not step.told and not _STEP.fullmatch(step.text):
        faults.append(step.fault(f"{quoted(step.text)} is not a step", "write task/number, as shut-valves/2"))
    try:
        return None if at.told else (step.text, read_clock(at.text))
    except TimeFault as fault:
        faults.append(at.fault(str(fault), fault.remedy))
        return None
