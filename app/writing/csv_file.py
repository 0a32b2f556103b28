"""Rows as a CSV file: RFC 4180, UTF-8 with a byte-order mark, since spreadsheets take a file without one for another
encoding. It opens no file and knows no column's meaning.
"""

import re
from collections.abc import Iterable, Mapping, Sequence

from app.core.numbers import digits
from app.reading.columns import NAMES
from app.reading.escapes import harmless
from app.writing.table import CellValue, Row

_NEEDS_QUOTES = re.compile(r'[",\r\n]|^\s|\s$')


def csv_bytes(rows: Iterable[Row]) -> bytes:
    """A procedure's rows under the columns of its table."""
    return csv_table(NAMES, rows)


def csv_table(names: Sequence[str], rows: Iterable[Mapping[str, CellValue | None]]) -> bytes:
    """The header and the rows, each with all columns, lines ended with CR LF."""
    lines = [",".join(names), *(",".join(_field(row.get(name)) for name in names) for row in rows)]
    return ("\ufeff" + "\r\n".join(lines) + "\r\n").encode()


def _field(value: CellValue | None) -> str:
    if value is None:
        return ""
    if not isinstance(value, str):
        return digits(value)
    text = harmless(value)
    return '"' + text.replace('"', '""') + '"' if _NEEDS_QUOTES.search(text) else text
