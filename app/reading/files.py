"""What a file is, by its content and its name, and who reads it. It opens no file."""

from typing import Literal

from app.reading.csv_file import looks_like_csv, read_csv
from app.reading.procedure_reader import Reading, read_procedure

Kind = Literal["yaml", "csv", "xlsx"]

CSV_TYPE = "text/csv"
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
"""RFC 4180, 3, and the media type that ECMA-376 registered (IANA)."""

SUFFIXES = (".yaml", ".yml", ".csv", ".xlsx")
"""The files of a folder that are loaded."""

_ZIP, _OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_WORKBOOKS = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
_TEXTS = (".csv", ".tsv")


def kind_of(data: bytes | str, name: str = "") -> Kind:
    """A workbook is known by its first bytes, a table by its name or its header; all else is taken for YAML."""
    if isinstance(data, bytes) and data.startswith((_ZIP, _OLE)):
        return "xlsx"
    suffix = name[name.rfind(".") :].lower() if "." in name else ""
    if suffix in _WORKBOOKS:
        return "xlsx"
    if suffix in _TEXTS:
        return "csv"
    begin = data[:400].decode("utf-8-sig", "replace") if isinstance(data, bytes) else data[:400].removeprefix("\ufeff")
    return "csv" if looks_like_csv(begin) else "yaml"


def read_file(data: bytes, name: str = "", kind: Kind | None = None) -> Reading:
    """The procedure of a file of any kind; `kind` if that is known already. Never raises on bad input."""
    found = kind or kind_of(data, name)
    if found == "csv":
        return read_csv(data)
    if found == "xlsx":
        # Only who reads a workbook needs its parts: a server starts without them.
        from app.reading.xlsx_file import read_xlsx

        return read_xlsx(data)
    return read_procedure(data)
