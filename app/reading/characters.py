"""Bytes to text: size, encoding and forbidden characters, for every text file. It knows no format."""

import re
from collections.abc import Iterator

from app.core.signs import FORBIDDEN
from app.reading.faults import PlacedFault

MOST_BYTES = 512 * 1024
"""The largest file that is read. Our own bound: a procedure of 1,000 steps needs about 150 KB."""

_MOST_BAD = 20
_BREAK = re.compile(r"\r\n|\r|\n")
_WIDE_MARKS = (
    (b"\xff\xfe\x00\x00", "UTF-32"),
    (b"\x00\x00\xfe\xff", "UTF-32"),
    (b"\xff\xfe", "UTF-16"),
    (b"\xfe\xff", "UTF-16"),
)
_SAVE = "save the file as UTF-8"


def decoded(data: bytes | str) -> tuple[str, list[PlacedFault]]:
    """The text of a file and what is wrong with its characters; with any fault the text is not to be used.

    A UTF-8 byte-order mark at the start is taken off.
    """
    too_large = _size_fault(data)
    if too_large:
        return "", [too_large]
    if isinstance(data, bytes):
        wide = _wide_fault(data)
        if wide:
            return "", [wide]
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError as error:
            return "", [_undecoded(data, error)]
    else:
        text = data
    text = text.removeprefix("\ufeff")
    return text, list(_forbidden_faults(text))


def forbidden_in(text: str) -> str | None:
    """Words for the first character of `text` that is refused, or None. For text that was written with escapes."""
    found = FORBIDDEN.search(text)
    return _named(found[0]) if found else None


def line_column(text: str, at: int) -> tuple[int, int]:
    """1-based line and column of the character at index `at`."""
    line, start = 1, 0
    for found in _BREAK.finditer(text, 0, at):
        line, start = line + 1, found.end()
    return line, at - start + 1


def _size_fault(data: bytes | str) -> PlacedFault | None:
    size = len(data)
    if isinstance(data, str) and size <= MOST_BYTES:
        size = len(data.encode("utf-8", "surrogatepass"))
    if size <= MOST_BYTES:
        return None
    what = f"the file has {-(-size // 1024):,} KB, and at most {MOST_BYTES // 1024} KB are read"
    return PlacedFault(1, 1, what, "split the file")


def _wide_fault(data: bytes) -> PlacedFault | None:
    for mark, name in _WIDE_MARKS:
        if data.startswith(mark):
            return PlacedFault(1, 1, f"the file is {name}, not UTF-8", _SAVE)
    if len(data) > 3 and 0 in data[:2]:
        return PlacedFault(1, 1, "the file begins with a NUL byte: it is UTF-16, or no text at all", _SAVE)
    return None


def _undecoded(data: bytes, error: UnicodeDecodeError) -> PlacedFault:
    line, column = line_column(data[: error.start].decode("utf-8"), len(data[: error.start].decode("utf-8")))
    byte = data[error.start]
    what = f"byte 0x{byte:02X} (byte {error.start + 1} of the file) is not UTF-8; the file may be Latin-1"
    return PlacedFault(line, column, what, _SAVE)


def _forbidden_faults(text: str) -> Iterator[PlacedFault]:
    for number, found in enumerate(FORBIDDEN.finditer(text)):
        if number == _MOST_BAD:
            return
        yield PlacedFault(*line_column(text, found.start()), f"{_named(found[0])} is not allowed", "take it out")


def _named(sign: str) -> str:
    code = f"U+{ord(sign):04X}"
    if sign == "\0":
        return f"a NUL character ({code})"
    if "\ud800" <= sign <= "\udfff":
        return f"half of a character ({code}, a lone surrogate)"
    if sign in "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069":
        return f"a hidden text-direction mark ({code})"
    if sign == "\ufeff":
        return f"a byte-order mark inside the text ({code})"
    return f"a control character ({code})"
