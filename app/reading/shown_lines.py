"""The line of a text at which a fault stands, as it is shown with a mark under it. It finds no fault."""

import re
import unicodedata
from dataclasses import replace

from app.core.signs import shown
from app.reading.faults import PlacedFault, ShownLine

MOST_SHOWN = 96
"""Characters of a line that are shown. Our own choice."""
BEFORE = 60
"""Of them, before the place of the fault."""

_BREAK = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
_GAP = "…"
_TAB = "→"


def with_lines(faults: tuple[PlacedFault, ...], data: bytes | str) -> tuple[PlacedFault, ...]:
    """The same with the line of each fault, where the text has such a place."""
    if not faults:
        return faults
    text = data.decode("utf-8-sig", "replace") if isinstance(data, bytes) else data.removeprefix("\ufeff")
    lines = _BREAK.split(text)
    return tuple(_with_line(fault, lines) for fault in faults)


def _with_line(fault: PlacedFault, lines: list[str]) -> PlacedFault:
    if not 1 <= fault.line <= len(lines):
        return fault
    line, at = lines[fault.line - 1], fault.column - 1
    if not line.strip() or at > len(line):
        return fault
    begin = max(0, at - BEFORE) if len(line) > MOST_SHOWN else 0
    end = min(len(line), begin + MOST_SHOWN)
    before = _GAP * (begin > 0) + _plain(line[begin:at])
    after = _plain(line[at + 1 : end]) + _GAP * (end < len(line))
    return replace(fault, shown=ShownLine(before, _plain(line[at : at + 1]), after))


def _plain(text: str) -> str:
    return shown(text.replace("\t", _TAB))


def drawn(fault: PlacedFault) -> list[str]:
    """The line and, under it, a caret at the place; nothing where there is no line to show."""
    if fault.shown is None:
        return []
    number = f"{fault.line:>6} | "
    before = fault.shown.before
    return [f"{number}{before}{fault.shown.at}{fault.shown.after}", f"{'':6} | {' ' * _columns(before)}^"]


def _columns(text: str) -> int:
    """How wide a terminal shows it: two columns for East Asian signs (Unicode Annex 11), none for accents."""
    wide = sum(unicodedata.east_asian_width(sign) in "WF" for sign in text)
    return len(text) + wide - sum(unicodedata.combining(sign) > 0 for sign in text)
