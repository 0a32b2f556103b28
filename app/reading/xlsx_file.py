"""A procedure table in an XLSX workbook (ECMA-376) to a `Reading`: its first sheet. It opens no file.

The workbook is read here and not by openpyxl: that fills a sheet with one cell at XFD1048576 up to there, and meets
most damaged files with an exception of some kind. openpyxl writes the workbooks, and the tests read and write with it.
"""

import posixpath
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from app.core.quoting import quoted
from app.reading.cells import Cell
from app.reading.characters import forbidden_in
from app.reading.columns import LONGEST_CELL, MOST_FIELDS, MOST_ROWS
from app.reading.escapes import restored
from app.reading.faults import PlacedFault, in_order
from app.reading.places import cell_name, row_column, with_cells
from app.reading.procedure_reader import Reading
from app.reading.table import Row, read_rows
from app.reading.xlsx_parts import BadWorkbook, Parts, local, opened
from app.reading.xlsx_values import Kind, NotRead, kind_of_format, number_text, unescaped

MOST_TEXT = 2 * 1024 * 1024
"""Characters in all cells together; a shared text counts each time that it is used. Our own bound, no source."""

_LONGEST_FORMAT = 255
"""Characters in a number format (Excel specifications and limits). What takes a format apart is slow over long ones."""

_COUNT = re.compile(r"[0-9]{1,7}")
_TRUTHS = {"1": "true", "true": "true", "0": "false", "false": "false"}
"""The texts of a truth value (XML Schema 1.0 part 2, 3.2.2)."""

_HIDDEN = {"hidden", "veryHidden"}


def read_xlsx(data: bytes) -> Reading:
    """The procedure of a workbook's first sheet. Never raises on bad input."""
    try:
        with opened(data) as archive:
            parts = Parts(archive)
            workbook = next((link.part for link in _links(parts, "") if link.kind == "officeDocument"), "")
            links = _links(parts, workbook)
            name, part = _first_sheet(parts, workbook, links)
            sheet = _Sheet(_strings(parts, links), _formats(parts, links))
            rows = sheet.rows(parts, part)
    except BadWorkbook as bad:
        return Reading(None, (bad.fault,))
    reading = Reading(None, in_order(sheet.faults)) if rows is None else read_rows(rows, sheet.faults)
    places = {(each.line, each.column) for each in reading.faults}
    return with_cells(reading, {place: f"{name}!{cell_name(*place)}" for place in places})


@dataclass(frozen=True, slots=True)
class _Link:
    """What one part says of another: its name for it, of what kind it is, and where."""

    id: str
    kind: str
    part: str


def _links(parts: Parts, part: str) -> tuple[_Link, ...]:
    """The relationships of a part, or with no part of the whole file (ECMA-376-2, 9.3)."""
    folder, name = posixpath.split(part)
    relations = posixpath.join(folder, "_rels", f"{name}.rels")
    return tuple(
        _Link(
            _attribute(each, "Id"),
            _attribute(each, "Type").rpartition("/")[2],
            posixpath.normpath(posixpath.join(folder, _attribute(each, "Target"))).lstrip("/"),
        )
        for each in parts.elements(relations, "Relationship")
    )


def _part(links: tuple[_Link, ...], kind: str) -> str | None:
    return next((link.part for link in links if link.kind == kind), None)


def _first_sheet(parts: Parts, workbook: str, links: tuple[_Link, ...]) -> tuple[str, str]:
    """Its name, and the part that holds it."""
    first = next(parts.elements(workbook, "sheet"), None)
    if first is None:
        raise BadWorkbook("the workbook has no sheet")
    wanted, name = _attribute(first, "id"), _shown(_attribute(first, "name"))
    if _attribute(first, "state") in _HIDDEN:
        # Nobody who looks at the workbook would see what was loaded.
        raise BadWorkbook(f"the first sheet, {quoted(name)}, is hidden", "show it, or put the table's sheet first")
    return name, next((link.part for link in links if link.id == wanted), "")


def _shown(name: str) -> str:
    """A sheet's name on one line; a forged one can't break the line of a fault."""
    return quoted(name)[1:-1] or "Sheet"


def _attribute(element: Element, name: str) -> str:
    """By its name without a namespace; empty if it is not there."""
    value = element.get(name)
    if value is not None:
        return value
    return next((value for key, value in element.attrib.items() if key.endswith(f"}}{name}")), "")


def _is_true(element: Element, name: str) -> bool:
    return _TRUTHS.get(_attribute(element, name)) == "true"


def _strings(parts: Parts, links: tuple[_Link, ...]) -> list[str]:
    part = _part(links, "sharedStrings")
    return [] if part is None else [_rich_text(each) for each in parts.elements(part, "si")]


def _rich_text(element: Element) -> str:
    """The runs of a text joined, without the reading aids (`rPh`) of Japanese."""
    said = []
    for child in element:
        if local(child) == "t":
            said.append(child.text or "")
        elif local(child) == "r":
            said += [each.text or "" for each in child if local(each) == "t"]
    return unescaped("".join(said))


def _formats(parts: Parts, links: tuple[_Link, ...]) -> list[Kind]:
    """What the number format of each cell style makes of a number."""
    part = _part(links, "styles")
    if part is None:
        return []
    found = parts.elements(part, "numFmt")
    codes = {_attribute(each, "numFmtId"): _attribute(each, "formatCode") for each in found}
    longest = max((len(code) for code in codes.values()), default=0)
    if longest > _LONGEST_FORMAT:
        raise BadWorkbook(f"a number format has {longest:,} characters, and at most {_LONGEST_FORMAT} are read")
    styles = next(parts.elements(part, "cellXfs"), None)
    numbers = [_attribute(each, "numFmtId") for each in (() if styles is None else styles) if local(each) == "xf"]
    kinds = {number: _format(number, codes) for number in set(numbers)}
    return [kinds[number] for number in numbers]


def _format(number: str, codes: dict[str, str]) -> Kind:
    return kind_of_format(int(number) if _COUNT.fullmatch(number) else 0, codes.get(number))


@dataclass(slots=True)
class _Sheet:
    strings: list[str]
    formats: list[Kind]
    faults: list[PlacedFault] = field(default_factory=list)
    characters: int = 0
    hidden: set[int] = field(default_factory=set)
    spans: int = 0

    def rows(self, parts: Parts, part: str) -> list[Row] | None:
        """The rows that hold something; None, with a fault, when a cell lies far outside any table, or out of order."""
        rows: list[Row] = []
        below = 0
        for element in parts.elements(part, "col", "row"):
            if local(element) == "col":
                self._note_hidden(element)
                continue
            said = _attribute(element, "r")
            below = int(said) if _COUNT.fullmatch(said) else below + 1
            cells = tuple(self._cells(element, below))
            far = next((cell for cell in cells if cell.line > MOST_ROWS or cell.index >= MOST_FIELDS), None)
            if far is not None:
                what = f"this cell lies far outside the table; {MOST_ROWS:,} rows and {MOST_FIELDS} columns are read"
                self._fault(far.line, far.column, what, "delete its whole row and column")
                return None
            if not cells:
                continue
            if not self._in_order(cells, below, rows[-1].cells[0].line if rows else 0):
                return None
            self._refuse_twins(cells)
            self._refuse_hidden(cells, _is_true(element, "hidden"))
            rows.append(_row(cells, below))
        return rows

    def _in_order(self, cells: tuple[Cell, ...], below: int, above: int) -> bool:
        """A spreadsheet shows each cell where its name says; this reader goes by the order in the file."""
        first = cells[0]
        if first.line > above and all(cell.line == below for cell in cells):
            return True
        self._fault(first.line, first.column, "this row is out of its order in the file", "save the workbook anew")
        return False

    def _refuse_twins(self, cells: tuple[Cell, ...]) -> None:
        seen: set[int] = set()
        for cell in cells:
            if cell.index in seen:
                self._fault(cell.line, cell.column, "this cell is there twice in the file", "save the workbook anew")
            seen.add(cell.index)

    def _note_hidden(self, columns: Element) -> None:
        ends = [_attribute(columns, name) for name in ("min", "max")]
        # A sound file has no column in two of them, so no more of them than columns.
        if _is_true(columns, "hidden") and all(map(_COUNT.fullmatch, ends)) and self.spans < MOST_FIELDS:
            self.spans += 1
            self.hidden.update(range(int(ends[0]), min(int(ends[1]), MOST_FIELDS) + 1))

    def _refuse_hidden(self, cells: tuple[Cell, ...], whole: bool) -> None:
        """Nobody who looks at the sheet sees them; a filter hides rows too."""
        first = next((cell for cell in cells if whole or cell.index + 1 in self.hidden), None)
        if first is not None:
            what = f"this {'row' if whole else 'column'} is hidden, and something stands in it"
            self._fault(first.line, first.column, what, "show it, or delete it; a filter hides rows too")

    def _fault(self, line: int, column: int, what: str, remedy: str) -> None:
        self.faults.append(PlacedFault(line, column, what, remedy))

    def _cells(self, row: Element, below: int) -> Iterator[Cell]:
        across = 0
        for element in row:
            if local(element) != "c":
                continue
            line, across = row_column(_attribute(element, "r")) or (below, across + 1)
            text, told = "", False
            try:
                text = self._text(element)
            except NotRead as fault:
                self._fault(line, across, fault.what, fault.remedy)
                text, told = "?", True
            if text.strip():
                yield Cell(line, across, across - 1, text, told)

    def _text(self, cell: Element) -> str:
        kind, inside = _attribute(cell, "t"), {local(each): each for each in cell}
        value = (inside["v"].text or "").strip() if "v" in inside else ""
        if "f" in inside:
            raise NotRead("this cell holds a formula", "copy it and paste it as a value; as text, format it as text")
        if kind in {"inlineStr", "str", "s"}:
            return self._checked(self._string(kind, value, inside))
        if not value:
            return ""
        if kind == "b":
            if value not in _TRUTHS:
                raise NotRead(f"this cell is neither true nor false: {quoted(value)}", "write it again")
            return _TRUTHS[value]
        if kind == "e":
            raise NotRead(f"this cell holds the error {quoted(value)}", "write its value")
        if kind == "d":
            raise NotRead("this cell is a date", "format the cell as text, and write it again")
        return number_text(value, self._format(_attribute(cell, "s")))

    def _string(self, kind: str, value: str, inside: dict[str, Element]) -> str:
        if kind == "s":
            if not _COUNT.fullmatch(value) or int(value) >= len(self.strings):
                raise NotRead("this cell refers to a text that is not in the file", "write it again")
            return self.strings[int(value)]
        if kind == "inlineStr":
            return _rich_text(inside["is"]) if "is" in inside else ""
        return unescaped(value)

    def _checked(self, text: str) -> str:
        self.characters += len(text)
        if self.characters > MOST_TEXT:
            raise BadWorkbook(f"the sheet holds more than {MOST_TEXT:,} characters", "split the file")
        if len(text) > LONGEST_CELL:
            raise NotRead(f"a text of {len(text):,} characters; at most {LONGEST_CELL:,} are read", "shorten it")
        forbidden = forbidden_in(text)
        if forbidden:
            raise NotRead(f"{forbidden} is not allowed in a text", "take it out")
        return restored(text)

    def _format(self, style: str) -> Kind:
        number = int(style) if _COUNT.fullmatch(style) else 0
        return self.formats[number] if number < len(self.formats) else Kind.NUMBER


def _row(cells: tuple[Cell, ...], below: int) -> Row:
    return Row(cells, lambda index: (below, index + 1))
