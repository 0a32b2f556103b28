"""The parts of a workbook's zip: what is let in, and its XML a bit at a time. It knows no cell.

Everything is bounded before it is unfolded: a workbook of 200 KB may hold 200 MB of blanks. XML goes through
defusedxml, which refuses every document type, and with it every entity.
"""

import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from typing import IO
from xml.etree.ElementTree import Element, ParseError

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import iterparse

from app.core.quoting import quoted
from app.reading.characters import MOST_BYTES
from app.reading.faults import PlacedFault

MOST_UNFOLDED = 8 * 1024 * 1024
MOST_PARTS = 500
MOST_ELEMENTS = 150_000
DEEPEST = 40
"""Our own bounds, no source. A table of 2,000 steps unfolds to about 1 MB with 100,000 elements, eight deep."""
_GULP = 256 * 1024

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED, _OLD = "EncryptedPackage".encode("utf-16-le"), "Workbook".encode("utf-16-le")
_SAVE = "save it as an XLSX workbook without a password, or as CSV"
_ANEW = "open it in a spreadsheet program and save it anew as XLSX"


class BadWorkbook(Exception):
    """The file is refused as a whole."""

    def __init__(self, what: str, remedy: str = _ANEW) -> None:
        super().__init__(what)
        self.what, self.remedy = what, remedy

    @property
    def fault(self) -> PlacedFault:
        return PlacedFault(1, 1, self.what, self.remedy)


def opened(data: bytes) -> zipfile.ZipFile:
    """The zip of a workbook.

    Raises:
        BadWorkbook: it is none, it is encrypted, too large, or unfolds to too much.
    """
    if len(data) > MOST_BYTES:
        what = f"the file has {-(-len(data) // 1024):,} KB, and at most {MOST_BYTES // 1024} KB are read"
        raise BadWorkbook(what, "take pictures and other sheets out, or split the file")
    if data.startswith(_OLE):
        raise _old_kind(data)
    try:
        found = zipfile.ZipFile(BytesIO(data))
    except (zipfile.BadZipFile, ValueError, OSError, struct.error, NotImplementedError, EOFError) as error:
        raise BadWorkbook("the file is no XLSX workbook, or it is damaged", _SAVE) from error
    _check(found.infolist())
    return found


def _old_kind(data: bytes) -> BadWorkbook:
    if _ENCRYPTED in data:
        return BadWorkbook("the workbook is encrypted", "take its password off, and save it again as XLSX")
    kind = "an old workbook (.xls), whatever its name says" if _OLD in data else "an old kind of office file"
    return BadWorkbook(f"the file is {kind}", _SAVE)


def _check(parts: list[zipfile.ZipInfo]) -> None:
    if len(parts) > MOST_PARTS:
        raise BadWorkbook(f"the file has {len(parts):,} parts, and at most {MOST_PARTS} are read")
    seen: set[str] = set()
    for part in parts:
        name = part.filename
        if name.startswith("/") or "\\" in name or ":" in name or ".." in name.split("/"):
            raise BadWorkbook(f"the part {quoted(name)} would lie outside the file", "do not use this file: " + _ANEW)
        if name in seen:
            raise BadWorkbook(f"the part {quoted(name)} is there twice")
        if part.flag_bits & 1:
            raise BadWorkbook("the workbook is encrypted", "take its password off, and save it again as XLSX")
        if part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise BadWorkbook(f"the part {quoted(name)} is packed in a way that no workbook uses")
        seen.add(name)
    unfolded = sum(part.file_size for part in parts)
    if unfolded > MOST_UNFOLDED:
        most = MOST_UNFOLDED // 1024 // 1024
        what = f"the file unfolds to {unfolded / 1024 / 1024:,.0f} MB, and at most {most} MB are read"
        raise BadWorkbook(what, "keep only the table: take other sheets, pictures and formats out")


@dataclass(slots=True)
class Parts:
    """The parts of an opened workbook. `met` counts the elements of all that was read: each takes its time again."""

    archive: zipfile.ZipFile
    met: int = 0

    def elements(self, name: str, *of: str) -> Iterator[Element]:
        """Each element called by one of `of` of a part, whole, as its end is met; what lies before it is let go.

        Names are without their namespace, of which there are two (transitional and strict).

        Raises:
            BadWorkbook: there is no such part, or it can't be read.
        """
        try:
            with self.archive.open(name) as part:
                yield from self._elements(_InGulps(part), name, of)
        except DefusedXmlException as error:
            what = f"the part {quoted(name)} declares a document type or an entity, as a bomb does"
            raise BadWorkbook(what, "do not use this file: " + _ANEW) from error
        except KeyError as error:
            raise BadWorkbook(f"the file has no part {quoted(name)}: it is no XLSX workbook", _SAVE) from error
        except (ParseError, zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, ValueError, LookupError) as error:
            raise BadWorkbook(f"the part {quoted(name)} is damaged") from error
        except (OSError, struct.error, OverflowError) as error:
            raise BadWorkbook(f"the part {quoted(name)} is damaged") from error

    def _elements(self, part: "_InGulps", name: str, of: tuple[str, ...]) -> Iterator[Element]:
        depth, parents = 0, []
        for event, element in iterparse(part, ("start", "end"), forbid_dtd=True):
            if event == "start":
                depth, self.met = depth + 1, self.met + 1
                if depth > DEEPEST or self.met > MOST_ELEMENTS:
                    raise BadWorkbook(f"the part {quoted(name)} has more in it than any table needs")
                parents.append(element)
                continue
            depth -= 1
            parents.pop()
            if local(element) in of:
                yield element
                if parents:
                    parents[-1].clear()


class _InGulps:
    """Gives the XML parser more at a time than it asks for: it begins a long comment or tag anew with each piece."""

    def __init__(self, part: IO[bytes]) -> None:
        self._part = part

    def read(self, _size: int = -1, /) -> bytes:
        return self._part.read(_GULP)


def local(element: Element) -> str:
    """The name of an element without its namespace."""
    return str(element.tag).rpartition("}")[2]
