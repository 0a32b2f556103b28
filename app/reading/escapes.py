"""What is written before a text in a table so that no spreadsheet takes it for a formula, and taken off again.

A cell that begins with one of SIGNS may be run by the program that opens it (OWASP, "CSV Injection": equals, plus,
minus, at, tab, carriage return, line feed and the full-width forms; from memory). An apostrophe before it makes it text
everywhere.
"""

import re

SIGNS = "=+-@\t\r\n＝＋－＠"
_RISKY = re.compile(f"'*[{re.escape(SIGNS)}]")
_MADE_HARMLESS = re.compile(f"'+[{re.escape(SIGNS)}]")


def harmless(text: str) -> str:
    """The text with one apostrophe before it, if it begins with a sign, or with apostrophes and a sign."""
    return f"'{text}" if _RISKY.match(text) else text


def restored(text: str) -> str:
    """The text that `harmless` was given. An apostrophe that stands before no sign stays."""
    return text[1:] if _MADE_HARMLESS.match(text) else text
