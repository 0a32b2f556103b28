"""A procedure table in CSV (RFC 4180, UTF-8) to a `Reading`. It opens no file and knows no column.

The fields are split here and not by the csv module, because a quotation mark that is never closed must be told at the
place where it opens. Besides the comma of the standard a semicolon or a tab may divide the fields, as spreadsheets in
many countries write it; which one it is stands after the first name of the header.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice

from app.core.quoting import quoted
from app.reading.cells import Cell
from app.reading.characters import decoded
from app.reading.columns import LONGEST_CELL, MOST_FIELDS, MOST_ROWS, NAMES
from app.reading.csv_rows import is_row
from app.reading.escapes import restored
from app.reading.faults import PlacedFault, in_order
from app.reading.places import cell_name, with_cells
from app.reading.procedure_reader import Reading
from app.reading.shown_lines import with_lines
from app.reading.table import Row, column_name, read_rows

_QUOTED = re.compile(r'"([^"]*(?:""[^"]*)*)"')
_BREAK = re.compile(r"\r\n|\r|\n")
_DIVIDERS = ",;\t"
_FIRST = re.compile(f"([^{_DIVIDERS}\r\n]{{1,40}})([{_DIVIDERS}])")


@dataclass(slots=True)
class _Splitter:
    """Goes through a text once. Once a fault is such that rows may be lost, nothing more is read.

    `doubt`: the first quoted field with a line in it that is a row, unless programs wrote the table; see `is_even`.
    """

    text: str
    divider: str
    faults: list[PlacedFault]
    at: int = 0
    line: int = 1
    line_start: int = 0
    header: tuple[str, ...] = ()
    stopped: bool = False
    doubt: PlacedFault | None = None
    row: list[Cell] = field(default_factory=list)

    def rows(self) -> Iterator[list[Cell]]:
        bare = re.compile(f"[^{self.divider}\r\n]*")
        while self._field(bare):
            if self.text.startswith(self.divider, self.at):
                self.at += 1
                continue
            yield self.row
            if not self.header and any(cell.text.strip() for cell in self.row):
                self.header = tuple(column_name(cell.text) for cell in self.row)
            ended = _BREAK.match(self.text, self.at)
            if ended is None:
                return
            self.row, self.at, self.line, self.line_start = [], ended.end(), self.line + 1, ended.end()

    def _field(self, bare: re.Pattern[str]) -> bool:
        """Take the field that begins here. False when it can't be told where it ends."""
        opened = Cell(self.line, self.at - self.line_start + 1, len(self.row), "")
        is_quoted = self.text.startswith('"', self.at)
        found = (_QUOTED if is_quoted else bare).match(self.text, self.at)
        if found is None:
            return self._stop(opened, "this quotation mark is never closed", "close it, or take it out")
        if is_quoted and self._has_swallowed(opened, found[1]):
            return False
        rest = bare.match(self.text, found.end())
        if is_quoted and rest and rest[0].strip():
            remedy = "double a quotation mark inside quotes, and end the field after the closing one"
            return self._stop(opened, f"{quoted(rest[0])} follows the closing quotation mark", remedy)
        self._take(opened, found[1].replace('""', '"') if is_quoted else found[0], is_quoted)
        breaks = list(_BREAK.finditer(found[0]))
        if breaks:
            self.line, self.line_start = self.line + len(breaks), found.start() + breaks[-1].end()
        self.at = rest.end() if is_quoted and rest else found.end()
        return len(self.row) <= MOST_FIELDS or self._stop(
            opened, f"the row has more than {MOST_FIELDS} fields", "take the needless ones out"
        )

    def _has_swallowed(self, opened: Cell, said: str) -> bool:
        """Whether an open quotation mark has swallowed rows for certain: the row that it stands in was whole before.

        In a table whose rows all have their empty fields, as programs write it, only then is a line a row.
        """
        first, *others = _BREAK.split(said)
        row = next((line for line in others if is_row(line, self.divider, self.header)), None)
        if row is None:
            return False
        what = "whole rows stand inside this quoted field"
        remedy = f"close the quotation mark in the row where it opens; a text can't have the line {quoted(row)}"
        if opened.index + first.count(self.divider) >= len(self.header) - 1:
            return not self._stop(opened, what, remedy)
        self.doubt = self.doubt or PlacedFault(opened.line, opened.column, what, remedy)
        return False

    def is_even(self, rows: Sequence[list[Cell]]) -> bool:
        """Whether all rows with something in them have as many fields as the header."""
        return all(len(row) == len(self.header) for row in rows if any(cell.text.strip() for cell in row))

    def _stop(self, opened: Cell, what: str, remedy: str) -> bool:
        self.faults.append(PlacedFault(opened.line, opened.column, what, remedy))
        self.stopped = True
        return False

    def _take(self, opened: Cell, said: str, is_quoted: bool) -> None:
        what, remedy = "", ""
        if len(said) > LONGEST_CELL:
            what = f"a field of {len(said):,} characters; at most {LONGEST_CELL:,} are read"
            remedy = "shorten it, or look for a missing quotation mark"
        elif '"' in said and not is_quoted:
            what = f"a quotation mark inside {quoted(said)}"
            remedy = "put the field in quotation marks, and double those inside it"
        elif said.startswith("="):
            what = f"{quoted(said)} is a formula"
            remedy = "write what it gives; if it is meant as text, put an apostrophe before it"
        if what:
            self.faults.append(PlacedFault(opened.line, opened.column, what, remedy))
        self.row.append(Cell(opened.line, opened.column, opened.index, restored(said), bool(what)))


def looks_like_csv(text: str) -> bool:
    """Whether a text begins with the header of a procedure table: one of its columns, then a sign that divides."""
    found = _FIRST.match(text.lstrip())
    return found is not None and column_name(found[1].strip(' "')) in NAMES


def read_csv(data: bytes | str) -> Reading:
    """The procedure of a CSV file. Never raises on bad input."""
    reading = _read(data)
    return Reading(reading.procedure, with_lines(reading.faults, data))


def _read(data: bytes | str) -> Reading:
    text, faults = decoded(data)
    if faults:
        return Reading(None, in_order(faults))
    found = _FIRST.match(text.lstrip())
    divider = found[2] if found else ","
    splitter = _Splitter(text, divider, faults)
    rows = list(islice(splitter.rows(), MOST_ROWS + 2))
    if len(rows) > MOST_ROWS + 1:
        first = rows[-1][0]
        what = f"the table has more than {MOST_ROWS:,} rows"
        faults.append(PlacedFault(first.line, first.column, what, "split the file, or take blank rows out"))
    if splitter.doubt and (splitter.stopped or not splitter.is_even(rows)):
        return Reading(None, in_order([splitter.doubt, *faults]))
    if splitter.stopped or len(rows) > MOST_ROWS + 1:
        return Reading(None, in_order(faults))
    reading = read_rows([_row(fields) for fields in rows], faults)
    return with_cells(reading, _names(rows, {(fault.line, fault.column) for fault in reading.faults}))


def _row(fields: list[Cell]) -> Row:
    def place(index: int) -> tuple[int, int]:
        """A field that the row lacks has the place of its last one."""
        cell = fields[min(index, len(fields) - 1)]
        return cell.line, cell.column

    return Row(tuple(each for each in fields if each.text.strip()), place)


def _names(rows: list[list[Cell]], wanted: set[tuple[int, int]]) -> dict[tuple[int, int], str]:
    """The cells, as a spreadsheet counts them, of the places that are wanted."""
    return {
        place: cell_name(number, each.index + 1)
        for number, row in enumerate(rows, 1)
        for each in row
        if (place := (each.line, each.column)) in wanted
    }
