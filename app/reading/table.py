"""The rows of a table to the tree that a YAML file of the same procedure has. It opens no file and knows no format."""

from collections.abc import Callable, Sequence
from collections.abc import Mapping as Table
from dataclasses import dataclass, field
from difflib import get_close_matches

from app.core.quoting import quoted
from app.reading.cells import Cell, Cells, TooMuch
from app.reading.columns import BY_NAME, COLUMNS, KINDS, MOST_ROWS, NAMES, REMARK, ROW, Column
from app.reading.faults import MOST_FAULTS, PlacedFault
from app.reading.procedure_reader import Reading, reading_of
from app.reading.yaml_tree import Broken, Leaf, Listing, Mapping, Node, Tree

PARTS = ("tasks", "crew", "windows", "tools")
"""What names are looked for in (`checking.check`): with a row that could not be placed none of them is whole."""

_HEADER = "begin the table with the names of the columns: row,name,text,who,takes and so on"
_KEYS: Table[tuple[str, str], str] = {
    ("procedure", "name"): "procedure",
    ("procedure", "text"): "title",
    ("crew", "text"): "does",
    ("supply", "name"): "supply",
    ("round", "name"): "round",
    ("round", "text"): "asks",
    ("task", "name"): "task",
    ("task", "text"): "title",
    ("step", "text"): "do",
}
"""Where the tree's key is not the column's name."""
_LIMITS = ("finish", "close_out")


@dataclass(frozen=True, slots=True)
class Row:
    """The cells of a row that hold something, and the place of any cell of it by its index."""

    cells: tuple[Cell, ...]
    place: Callable[[int], tuple[int, int]]


@dataclass(frozen=True, slots=True)
class _Said:
    """A row by the names of its columns. `at` is the place of its first cell."""

    kind: str
    cells: Table[str, Cell]
    first: Cell


@dataclass(slots=True)
class _Block:
    """A task, to which its steps are added as their rows are met."""

    said: _Said
    values: dict[str, Node]
    keys: dict[str, Leaf]
    steps: list[Node] = field(default_factory=list)


def read_rows(rows: Sequence[Row], faults: Sequence[PlacedFault] = ()) -> Reading:
    """The procedure of a table whose first row is the header. `faults` are those of the file. Never raises."""
    builder = _Builder(list(faults))
    try:
        root = builder.root([row for row in rows if row.cells])
    except TooMuch as stop:
        return reading_of(Tree(None, (*builder.faults, stop.fault)))
    return reading_of(Tree(root, tuple(builder.faults)), builder.unread)


class _Builder:
    def __init__(self, faults: list[PlacedFault]) -> None:
        self.faults = faults
        self.unread: set[str] = set(PARTS) if faults else set()
        self._cells = Cells(faults)

    def root(self, rows: list[Row]) -> Node | None:
        """None when there is nothing to read a procedure from."""
        header = self._header(rows)
        if header is None:
            return None
        if len(rows) - 1 > MOST_ROWS:
            first = rows[MOST_ROWS + 1].cells[0]
            self._fault(first, f"the table has more than {MOST_ROWS:,} rows", "split the file")
            return None
        said = [one for row in rows[1:] if (one := self._said(row, header))]
        top = self._procedure(said, rows[0].cells[0])
        if top is None:
            return None
        for key, node in (
            ("crew", self._named(said, "crew")),
            ("windows", self._named(said, "window")),
            ("supplies", self._listed(said, "supply")),
            ("rounds", self._listed(said, "round")),
            ("tools", self._tools(said)),
            ("tasks", self._tasks(said, rows[0].cells[0])),
        ):
            if node is not None:
                _put(top, key, node)
        return top

    def _fault(self, cell: Cell, what: str, remedy: str) -> None:
        self.faults.append(PlacedFault(cell.line, cell.column, what, remedy))

    def _lost(self, cell: Cell, what: str, remedy: str) -> None:
        """A fault of a row that can't be placed: names that are not found may be in it."""
        self._fault(cell, what, remedy)
        self.unread.update(PARTS)

    def _header(self, rows: list[Row]) -> dict[int, Column] | None:
        """The columns by index; None, with faults, where one name is wrong: nothing below it would make sense."""
        if not rows:
            self.faults.append(PlacedFault(1, 1, "the table is empty", _HEADER))
            return None
        told, header, seen = len(self.faults), {}, set()
        for cell in rows[0].cells:
            name = column_name(cell.text)
            if cell.told:
                return None
            if name not in BY_NAME:
                self._fault(cell, f"there is no column {quoted(cell.text)}", _column_remedy(name))
            elif name in seen:
                self._fault(cell, f"the column {name} is there twice", "keep one of them")
            else:
                seen.add(name)
                header[cell.index] = BY_NAME[name]
        if len(self.faults) == told and ROW not in seen:
            self._fault(rows[0].cells[0], "the column row is missing", _HEADER)
        return header if len(self.faults) == told else None

    def _said(self, row: Row, header: dict[int, Column]) -> _Said | None:
        first = row.cells[0]
        if first.text.lstrip().startswith(REMARK) and header.get(first.index, BY_NAME[ROW]).name == ROW:
            return None
        cells = {header[cell.index].name: cell for cell in row.cells if cell.index in header}
        for cell in row.cells:
            if cell.index not in header:
                self._fault(cell, f"{quoted(cell.text)} stands under no column", "give it a column, or take it out")
        kind = cells[ROW].text.strip().casefold() if ROW in cells else ""
        if ROW in cells and cells[ROW].told:
            return None
        if kind not in KINDS:
            self._unknown_kind(cells.get(ROW), first, kind)
            return None
        said = _Said(kind, cells, first)
        self._check_cells(said, row, header)
        return said

    def _unknown_kind(self, cell: Cell | None, first: Cell, kind: str) -> None:
        if cell is None:
            self._lost(first, "this row does not say what it is", f"write one of {', '.join(KINDS)} under row")
            return
        shy = len(self.faults) >= MOST_FAULTS
        close = [] if shy else get_close_matches(kind[:64], KINDS, n=1)
        remedy = f"did you mean {close[0]}?" if close else f"write one of {', '.join(KINDS)}"
        self._lost(cell, f"there is no kind of row {quoted(cell.text)}", remedy)

    def _check_cells(self, said: _Said, row: Row, header: dict[int, Column]) -> None:
        for name, cell in said.cells.items():
            if said.kind not in BY_NAME[name].meaning:
                kinds = " or ".join(BY_NAME[name].meaning)
                self._fault(cell, f"a {said.kind} row has no {name}", f"it belongs to a row {kinds}: move or empty it")
        places = {column.name: row.place(index) for index, column in header.items()}
        for column in COLUMNS:
            if said.kind in column.required and column.name not in said.cells:
                line, at = places.get(column.name, (said.first.line, said.first.column))
                what = f"a {said.kind} row lacks its {column.name}"
                remedy = f"write {column.meaning[said.kind]} under {column.name}"
                self.faults.append(PlacedFault(line, at, what, remedy))
                if column.name == "name":
                    self.unread.update(PARTS)

    def _procedure(self, said: list[_Said], header: Cell) -> Mapping | None:
        rows = [one for one in said if one.kind == "procedure"]
        for more in rows[1:]:
            self._fault(more.first, "there is a second procedure row", "keep one of them, or split the file")
        if not rows:
            self._fault(header, "there is no procedure row", "add one with its name and title")
            return None
        found = self._mapping(rows[0])
        top = Mapping(found.line, found.column, {}, {})
        limits, ahead = Mapping(found.line, found.column, {}, {}), Mapping(found.line, found.column, {}, {})
        for key, value in found.values.items():
            _put(limits if key in _LIMITS else ahead if key == "least_lead" else top, key, value)
        for key, inside in (("limits", limits), ("get_ahead", ahead)):
            if inside.values:
                _put(top, key, inside)
        return top

    def _mapping(self, said: _Said, *left_out: str) -> Mapping:
        """The cells of a row as the keys of the tree. A cell that must be there and is not was told already."""
        found = Mapping(said.first.line, said.first.column, {}, {})
        for column in COLUMNS[1:]:
            if said.kind not in column.meaning or column.name in left_out:
                continue
            key = _KEYS.get((said.kind, column.name), column.name)
            cell = said.cells.get(column.name)
            if cell is not None:
                _put(found, key, self._node(cell, column))
            elif said.kind in column.required:
                _put(found, key, Broken(found.line, found.column))
        return found

    def _node(self, cell: Cell, column: Column) -> Node:
        node = self._cells.node(cell, column.notation)
        return self._cells.mapping(cell, {"go": node}) if column.name == "hold" else node

    def _listed(self, said: list[_Said], kind: str) -> Node | None:
        rows = [one for one in said if one.kind == kind]
        return _listing(rows, [self._mapping(one) for one in rows]) if rows else None

    def _tools(self, said: list[_Said]) -> Node | None:
        rows = [one for one in said if one.kind == "tool" and "name" in one.cells]
        return _listing(rows, [self._node(one.cells["name"], BY_NAME["name"]) for one in rows]) if rows else None

    def _named(self, said: list[_Said], kind: str) -> Node | None:
        """Crew or windows: a mapping by name."""
        rows = [one for one in said if one.kind == kind]
        if not rows:
            return None
        found = Mapping(rows[0].first.line, rows[0].first.column, {}, {})
        for one in rows:
            cell = one.cells.get("name")
            name = self._node(cell, BY_NAME["name"]) if cell else None
            if cell is None or not isinstance(name, Leaf):
                self.unread.update(PARTS)
            elif name.text in found.values:
                self._fault(cell, f"the {kind} {quoted(name.text)} is there twice", "give each its own name")
            else:
                found.keys[name.text] = name
                found.values[name.text] = self._value(one)
        return found

    def _value(self, said: _Said) -> Node:
        inside = self._mapping(said, "name")
        return inside.values["openings"] if said.kind == "window" else inside

    def _tasks(self, said: list[_Said], header: Cell) -> Node:
        """Every task with its steps in the order of the rows, wherever they stand."""
        blocks: dict[str, _Block] = {}
        order: list[_Block] = []
        for one in said:
            if one.kind == "task":
                inside = self._mapping(one)
                order.append(_Block(one, inside.values, inside.keys))
                if "name" in one.cells:
                    blocks.setdefault(one.cells["name"].text.strip(), order[-1])
        above: _Block | None = None
        tasks = iter(order)
        for one in said:
            if one.kind == "task":
                above = next(tasks)
            elif one.kind == "step":
                above = self._step(one, blocks, above)
        return Listing(header.line, header.column, tuple(_with_steps(block) for block in order))

    def _step(self, said: _Said, blocks: dict[str, _Block], above: _Block | None) -> _Block | None:
        cell = said.cells.get("name")
        block = blocks.get(cell.text.strip()) if cell else above
        if block is not None:
            block.steps.append(self._mapping(said, "name"))
        elif cell is None:
            self._lost(said.first, "no task stands above this step", "put a task row above it, or name its task")
        else:
            self._lost(cell, f"there is no task row {quoted(cell.text)}", "add a row task with this name, or mend it")
        return block


def _with_steps(block: _Block) -> Mapping:
    first = block.said.first
    found = Mapping(first.line, first.column, block.values, block.keys)
    _put(found, "steps", Listing(first.line, first.column, tuple(block.steps)))
    return found


def _put(into: Mapping, key: str, node: Node) -> None:
    into.keys[key] = Leaf(node.line, node.column, key)
    into.values[key] = node


def _listing(rows: list[_Said], items: Sequence[Node]) -> Listing:
    return Listing(rows[0].first.line, rows[0].first.column, tuple(items))


def column_name(said: str) -> str:
    """As columns are compared: ``Not before`` is `not_before`."""
    return "_".join(said.strip().casefold().split())


def _column_remedy(name: str) -> str:
    close = get_close_matches(name[:64], NAMES, n=1)
    return f"did you mean {close[0]}?" if close else f"known are {', '.join(NAMES[:6])} and those of the template"
