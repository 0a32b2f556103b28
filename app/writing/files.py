"""A procedure as a file of any kind, each of which reads back as the same procedure. It opens no file."""

from app.core.procedure import Procedure
from app.reading.columns import LONGEST_CELL, MOST_ROWS
from app.reading.files import Kind, read_file
from app.writing.csv_file import csv_bytes
from app.writing.table import Row, rows_of
from app.writing.yaml_file import yaml_text


class NoTable(ValueError):
    """The procedure can't be written as a table that reads back. ``str()`` says why and what to do."""


def written(procedure: Procedure, kind: Kind) -> bytes:
    """The file.

    Raises:
        NoTable: a text is longer than a cell takes, or the whole larger than a table that is read.
    """
    if kind == "yaml":
        return yaml_text(procedure).encode()
    rows = rows_of(procedure)
    _check_size(rows)
    made = csv_bytes(rows) if kind == "csv" else _workbook(rows)
    # A text may look like rows of the table itself; rather no file than one that says something else.
    reading = read_file(made, kind=kind)
    if reading.procedure != procedure:
        why = next((f" ({each.where}: {each.what})" for each in reading.faults if not each.remark), "")
        raise NoTable(f"This procedure can't be told from a table{why}; take it as YAML.")
    return made


def _workbook(rows: list[Row]) -> bytes:
    # Only who writes a workbook needs openpyxl: a server starts without it.
    from app.writing.xlsx_file import xlsx_bytes

    return xlsx_bytes(rows)


def _check_size(rows: list[Row]) -> None:
    longest = max(len(cell) for row in rows for cell in row.values() if isinstance(cell, str))
    if longest > LONGEST_CELL or len(rows) > MOST_ROWS:
        what = f"{len(rows):,} rows, the longest cell {longest:,} characters"
        raise NoTable(f"This procedure is too large for a table ({what}); take it as YAML.")


def stored_text(data: bytes, kind: Kind, procedure: Procedure) -> str:
    """The YAML text that a library keeps of a file that was read: its own, or that of the table's procedure."""
    return data.decode("utf-8-sig") if kind == "yaml" else yaml_text(procedure)
