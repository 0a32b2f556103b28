"""What a number in a workbook means by its format, as the text that a planner would type. It reads no file."""

import re
from enum import Enum
from math import isfinite

from app.core.numbers import digits
from app.core.times import LONGEST_S

_NUMBER = re.compile(r"[-+]?(?:[0-9]{1,20}(?:\.[0-9]{0,20})?|\.[0-9]{1,20})(?:[eE][-+]?[0-9]{1,3})?")
_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")
_BUILT_IN = {
    9: "0%", 10: "0.00%", 14: "y", 15: "y", 16: "d", 17: "y", 18: "h AM/PM", 19: "h AM/PM", 20: "h:mm", 21: "h:mm:ss",
    22: "y", 45: "mm:ss", 46: "[h]:mm:ss", 47: "mm:ss", **dict.fromkeys([*range(27, 37), *range(50, 59)], "y"),
}  # fmt: skip
"""Number formats that a workbook names by number alone (ECMA-376-1, 18.8.30), as far as it matters which."""
_LITERAL = re.compile(r'"[^"]*"|\\.|_.|\*.|\[(?!h+\]|m+\]|s+\])[^\]]*\]', re.IGNORECASE)
_MOST_DECIMALS = 15
"""The reader of a procedure takes no more (`spots`)."""
_NEAR_S = 0.01
"""Times are kept as fractions of a day; a whole second comes back within far less than this."""


class Kind(Enum):
    """What a number format makes of a number."""

    NUMBER = "a number"
    PER_CENT = "a percentage"
    ELAPSED = "a time"
    OVER_A_DAY = "a time that runs on after a day"
    TIME_OF_DAY = "a time of day"
    DATE = "a date"


class NotRead(Exception):
    """The cell holds something that no column takes."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what, self.remedy = what, remedy


def kind_of_format(number: int, code: str | None) -> Kind:
    """The kind by format number, or by the workbook's own `code` for it."""
    said = _LITERAL.sub("", code if code is not None else _BUILT_IN.get(number, "")).split(";")[0].lower()
    if "general" in said:
        return Kind.NUMBER
    if "%" in said:
        return Kind.PER_CENT
    half_day = "am/pm" in said or "a/p" in said
    said = said.replace("am/pm", "").replace("a/p", "")
    if "y" in said or "d" in said or ("m" in said and not re.search("[hs]", said)):
        return Kind.OVER_A_DAY if "[m" in said else Kind.DATE
    if re.search("[hs]", said):
        return Kind.TIME_OF_DAY if half_day else Kind.OVER_A_DAY if "[" in said else Kind.ELAPSED
    return Kind.NUMBER


def number_text(said: str, kind: Kind) -> str:
    """The text of a cell that holds a number: ``12``, ``0.5``; a time as ``1:45`` or ``1:45:30``.

    Raises:
        NotRead: it is a date, a time of day, a percentage, or no number.
    """
    if not _NUMBER.fullmatch(said):
        raise NotRead("this cell holds no number where it says that it does", "write the value again")
    value = float(said)
    if not isfinite(value):
        raise NotRead("this cell holds a number beyond all measure", "write the value again")
    if kind is Kind.NUMBER:
        return _as_shown(value)
    if kind is Kind.PER_CENT:
        raise NotRead("this cell is a percentage", "format the cell as text, and write 12 and not 12 %")
    if kind is Kind.DATE:
        raise NotRead("this cell is a date", "format the cell as text, and write it again")
    if kind is Kind.TIME_OF_DAY:
        raise NotRead("this cell is a time of day", "format the cell as text, and write the elapsed time as h:mm")
    return _clock(value, kind)


def _as_shown(value: float) -> str:
    """A sum such as 0.1 + 0.2 is kept with 17 digits, and a spreadsheet shows 15 of them: 0.3."""
    said = digits(value)
    return digits(float(f"{value:.15g}")) if len(said.rpartition(".")[2]) > _MOST_DECIMALS and "." in said else said


def _clock(days: float, kind: Kind) -> str:
    seconds = days * 86_400
    if not 0 <= seconds < LONGEST_S or abs(seconds - round(seconds)) > _NEAR_S:
        raise NotRead(
            "this cell is no elapsed time in whole seconds", "format the cell as text, and write h:mm or h:mm:ss"
        )
    whole = round(seconds)
    if kind is Kind.ELAPSED and whole >= 86_400:
        remedy = "format the cell as text, and write the elapsed time in hours: 26:30"
        raise NotRead("this cell shows a time, but holds more than a day", remedy)
    return f"{whole // 3600}:{whole // 60 % 60:02d}" + (f":{whole % 60:02d}" if whole % 60 else "")


def unescaped(text: str) -> str:
    """Signs that XML can't carry stand in a workbook as ``_x000D_`` (ECMA-376-1, 22.9.2.19, ST_Xstring)."""
    return _ESCAPE.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text


def escaped(text: str) -> str:
    """The other way: a carriage return, which XML would turn into a line feed, and what looks like an escape."""
    return re.sub(r"_(?=x[0-9A-Fa-f]{4}_)", "_x005F_", text).replace("\r", "_x000D_")
