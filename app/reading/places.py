"""Names of cells, ``C5``, and the faults of a table told by them. It reads no table."""

import re
from collections.abc import Mapping
from dataclasses import replace

from app.reading.procedure_reader import Reading

LAST_COLUMN = 16_384
LAST_ROW = 1_048_576
"""The last cell of a sheet is XFD1048576 (ECMA-376 leaves it open; Excel specifications and limits)."""

_NAME = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})")


def cell_name(row: int, column: int) -> str:
    """``C5`` for row 5, column 3, both counted from 1."""
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return f"{letters}{row}"


def row_column(name: str) -> tuple[int, int] | None:
    """(5, 3) for ``C5``; None for what is no cell of a sheet."""
    found = _NAME.fullmatch(name)
    if found is None:
        return None
    column = 0
    for letter in found[1]:
        column = column * 26 + ord(letter) - ord("A") + 1
    row = int(found[2])
    return (row, column) if row <= LAST_ROW and column <= LAST_COLUMN else None


def with_cells(reading: Reading, names: Mapping[tuple[int, int], str]) -> Reading:
    """The same with the cell of each fault whose (line, column) has a name."""
    faults = (replace(fault, cell=names.get((fault.line, fault.column), "")) for fault in reading.faults)
    return Reading(reading.procedure, tuple(faults))
