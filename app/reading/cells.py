"""One cell of a table to a node of a tree, by the notation of its column. It judges form only, as a YAML parser does.

A cell is read by hand and not by one pattern: a pattern with blanks on both sides of a text takes seconds over a cell
of thirty thousand blanks.
"""

import re
from collections.abc import Callable
from collections.abc import Mapping as Table
from dataclasses import dataclass, field

from app.core.quoting import quoted
from app.reading.characters import forbidden_in
from app.reading.columns import NOBODY, Notation
from app.reading.faults import PlacedFault
from app.reading.yaml_tree import LONGEST_TEXT, MOST_NODES, Broken, Leaf, Listing, Mapping, Node

BETWEEN = ".."
"""Between the two ends of an opening or a tolerance. A hyphen would be a sign, and a date in some spreadsheets."""

_BLANK = re.compile(r"\s*")
_QUOTED = re.compile(r'"([^"]*(?:""[^"]*)*)"')
_TO_SEMICOLON = re.compile(r"[^;]*")
_TO_BRACKET = re.compile(r"[^;\[]*")
_TO_END_OF_UNIT = re.compile(r"[^;\]]*")


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell with something in it.

    `index` counts the columns of its row from 0; `line` and `column` are for faults. `told`: it was refused already,
    and nothing more is said of it.
    """

    line: int
    column: int
    index: int
    text: str
    told: bool = False


class TooMuch(Exception):
    """The table holds more values than are read."""

    def __init__(self, fault: PlacedFault) -> None:
        super().__init__(str(fault))
        self.fault = fault


class _Wrong(Exception):
    """The cell does not keep to its notation."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.remedy = remedy


@dataclass(slots=True)
class Cells:
    """Makes nodes of cells, all at the cell's own place. What is wrong is added to `faults` and gives a `Broken`."""

    faults: list[PlacedFault]
    _made: int = field(default=0)

    def node(self, cell: Cell, notation: Notation) -> Node:
        """Raises TooMuch when the table has more than MOST_NODES values."""
        if cell.told:
            return Broken(cell.line, cell.column)
        said = cell.text.strip()
        try:
            return _READERS[notation](self, cell, said)
        except _Wrong as wrong:
            return self.broken(cell, str(wrong), wrong.remedy)

    def broken(self, cell: Cell, what: str, remedy: str) -> Broken:
        self.faults.append(PlacedFault(cell.line, cell.column, what, remedy))
        return Broken(cell.line, cell.column)

    def leaf(self, cell: Cell, text: str, plain: bool = False) -> Node:
        self._made += 1
        if self._made > MOST_NODES:
            what = f"the table has more than {MOST_NODES:,} values"
            raise TooMuch(PlacedFault(cell.line, cell.column, what, "split the file"))
        if len(text) > LONGEST_TEXT:
            what = f"a text of {len(text):,} characters; at most {LONGEST_TEXT:,} are read"
            return self.broken(cell, what, "shorten it, or look for a missing quotation mark")
        forbidden = forbidden_in(text)
        if forbidden:
            return self.broken(cell, f"{forbidden} is not allowed in a text", "take it out")
        return Leaf(cell.line, cell.column, text, plain)

    def listing(self, cell: Cell, items: list[Node]) -> Listing:
        return Listing(cell.line, cell.column, tuple(items))

    def mapping(self, cell: Cell, values: dict[str, Node]) -> Mapping:
        return Mapping(
            cell.line, cell.column, values, {key: Leaf(cell.line, cell.column, key, plain=False) for key in values}
        )

    def number(self, cell: Cell, said: str) -> Node:
        return self.leaf(cell, said, plain=True)

    def flag(self, cell: Cell, said: str) -> Node:
        """A spreadsheet writes TRUE for a truth value."""
        return self.leaf(cell, said.lower() if said.lower() in {"true", "false"} else said, plain=True)

    def names(self, cell: Cell, said: str) -> Node:
        """No name holds a comma, so that a comma may divide them too."""
        if said == NOBODY:
            return self.listing(cell, [])
        return self.listing(cell, [self.leaf(cell, each) for each in _parts(said, ",;")])

    def items(self, cell: Cell, said: str) -> Node:
        return self.listing(cell, [self.leaf(cell, each) for each in _items(said)])

    def links(self, cell: Cell, said: str) -> Node:
        return self.listing(cell, [self._link(cell, each) for each in _parts(said, ",;")])

    def _link(self, cell: Cell, said: str) -> Node:
        name, plus, wait = (part.strip() for part in said.partition("+"))
        if not plus:
            return self.leaf(cell, name)
        if not name or not wait:
            raise _Wrong(f"{quoted(said)} is not a task or step with a wait", "write it as prove/1 + 5 min")
        kind = "step" if "/" in name else "task"
        return self.mapping(cell, {kind: self.leaf(cell, name), "wait": self.leaf(cell, wait)})

    def points(self, cell: Cell, said: str) -> Node:
        parts = _parts(said, "|")
        return self.leaf(cell, said) if len(parts) == 1 else self.listing(cell, [self.leaf(cell, one) for one in parts])

    def spread(self, cell: Cell, said: str) -> Node:
        return self.listing(cell, [self.leaf(cell, one, plain=True) for one in _parts(said, "|")])

    def openings(self, cell: Cell, said: str) -> Node:
        return self.listing(cell, [self._opening(cell, one) for one in _parts(said, ",;")])

    def _opening(self, cell: Cell, said: str) -> Node:
        opens, between, closes = (part.strip() for part in said.partition(BETWEEN))
        if not between or not opens or not closes:
            remedy = "write when it opens and when it closes, for example 0:10..1:05"
            raise _Wrong(f"{quoted(said)} is not an opening", remedy)
        return self.listing(cell, [self.leaf(cell, opens), self.leaf(cell, closes)])

    def record(self, cell: Cell, said: str) -> Node:
        values: dict[str, Node] = {}
        for name, unit, tolerance in _values(said):
            if name in values:
                raise _Wrong(f"the value {quoted(name)} is recorded twice in one step", "give each its own name")
            asked = {"unit": self.leaf(cell, unit), **self._tolerance(cell, tolerance)}
            if isinstance(self.leaf(cell, name), Leaf):
                values[name] = self.mapping(cell, asked)
        return self.mapping(cell, values)

    def _tolerance(self, cell: Cell, said: str) -> dict[str, Node]:
        low, between, high = (part.strip() for part in said.partition(BETWEEN))
        if said and (not between or not (low or high)):
            remedy = "write the lowest and the highest value after the unit: [mm] 2..6, [mm] 2.. or [mm] ..6"
            raise _Wrong(f"{quoted(said)} is not a tolerance", remedy)
        ends = {"from": low, "to": high}
        return {key: self.leaf(cell, end, plain=True) for key, end in ends.items() if end}


def _text(cells: Cells, cell: Cell, said: str) -> Node:
    return cells.leaf(cell, said)


_READERS: Table[Notation, Callable[[Cells, Cell, str], Node]] = {
    Notation.TEXT: _text,
    Notation.NAME: _text,
    Notation.CLOCK: _text,
    Notation.DURATION: _text,
    Notation.NAMES: Cells.names,
    Notation.ITEMS: Cells.items,
    Notation.LINKS: Cells.links,
    Notation.POINTS: Cells.points,
    Notation.SPREAD: Cells.spread,
    Notation.OPENINGS: Cells.openings,
    Notation.RECORD: Cells.record,
    Notation.FLAG: Cells.flag,
    Notation.INTEGER: Cells.number,
    Notation.NUMBER: Cells.number,
}


def _parts(said: str, signs: str) -> list[str]:
    """Raises _Wrong when one of the parts is empty."""
    parts = [part.strip() for part in re.split(f"[{re.escape(signs)}]", said)]
    if not all(parts):
        raise _Wrong(f"nothing stands between two dividing signs in {quoted(said)}", "take the needless one out")
    return parts


def _items(said: str) -> list[str]:
    """The texts between semicolons. One that begins with a quotation mark ends at the next that is not doubled."""
    found, at = [], 0
    while True:
        item, at = _quoted_or(said, at, _TO_SEMICOLON)
        if not item:
            raise _Wrong(f"an empty item in {quoted(said)}", "take the needless semicolon out")
        found.append(item)
        if at >= len(said):
            return found
        if said[at] != ";":
            raise _Wrong(f"{quoted(said[at:])} follows a closing quotation mark", "put a semicolon between two items")
        at += 1


def _values(said: str) -> list[tuple[str, str, str]]:
    """Name, unit and tolerance of each value; the tolerance may be empty."""
    found, at = [], 0
    while True:
        name, at = _quoted_or(said, at, _TO_BRACKET)
        if not name or said[at : at + 1] != "[":
            raise _no_value(said)
        unit, at = _quoted_or(said, at + 1, _TO_END_OF_UNIT)
        if not unit or said[at : at + 1] != "]":
            raise _no_value(said)
        rest = _TO_SEMICOLON.match(said, at + 1)
        assert rest is not None  # It matches an empty text too.
        found.append((name, unit, rest[0].strip()))
        at = rest.end() + 1
        if at > len(said):
            return found


def _no_value(said: str) -> _Wrong:
    remedy = "write each as name [unit] lowest..highest, divided by semicolons: gap left [mm] 2..6; turns [turn]"
    return _Wrong(f"{quoted(said)} does not say what to record", remedy)


def _quoted_or(said: str, at: int, bare: re.Pattern[str]) -> tuple[str, int]:
    """A text in quotes or a bare one from `at`, blanks around it left out, and where what follows it begins."""
    at = _end(_BLANK, said, at)
    if not said.startswith('"', at):
        end = _end(bare, said, at)
        return said[at:end].strip(), end
    found = _QUOTED.match(said, at)
    if found is None:
        raise _Wrong(f"a quotation mark in {quoted(said[at:])} is never closed", "close it, or take it out")
    return found[1].replace('""', '"').strip(), _end(_BLANK, said, found.end())


def _end(pattern: re.Pattern[str], said: str, at: int) -> int:
    found = pattern.match(said, at)
    return found.end() if found else at
