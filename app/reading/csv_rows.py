"""Tells a row of a table from a line of a text. It splits no file: that is `csv_file`'s.

A quotation mark that is left open swallows the rows below it, up to the next mark, and a step that is lost so would be
missed by nobody. A row that a program wrote has no blank behind its divider, and prose has one: so a line with a blank
there is a row only if it holds all that a row of its kind must. Our own rule, no source.
"""

from collections.abc import Sequence

from app.reading.columns import COLUMNS, KINDS, ROW, Column, Notation

_SHORT_NAMES = ("procedure", "crew", "task")
"""Kinds of rows whose name has no blanks."""


def is_row(line: str, divider: str, header: Sequence[str]) -> bool:
    """Whether a line begins as a row does: with one of the kinds where the header has `row`, and a divider beside it.

    Args:
        header: the names of the columns, as `columns.NAMES` has them; unknown ones stay as they are.
    """
    at = header.index(ROW) if ROW in header else 0
    fields = line.split(divider)
    if len(fields) <= max(at, 1) or (kind := fields[at].strip().casefold()) not in KINDS:
        return False
    if not fields[at or 1].startswith(" "):
        return True
    said = dict(zip(header, fields, strict=False))
    wanted = [column for column in COLUMNS[1:] if kind in column.required and column.name in header]
    return all(_may_hold(kind, column, said.get(column.name, "").strip()) for column in wanted)


def _may_hold(kind: str, column: Column, field: str) -> bool:
    """Whether a column that must be filled may hold this. All that is measured begins with a digit."""
    if column.name == "name" and kind in _SHORT_NAMES:
        return len(field.split()) == 1
    return bool(field) if column.notation in (Notation.TEXT, Notation.NAME) else field[:1].isdecimal()
